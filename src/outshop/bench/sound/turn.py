"""What repeats once per wheel turn: loudness, motor speed, thumps."""

from dataclasses import dataclass

import numpy as np

from outshop.bench.sound.warp import EvenTurning
from outshop.bench.sound.weighting import FloatArray
from outshop.estimate import Estimate, NotMeasurable, Reading

STEPS = 24  # parts of a wheel turn, 15 degrees each; ours
LEAST_TURNS = 6  # fewer turns leave no spread to judge by; ours
NORMAL, RAYLEIGH = 1.96, 2.45  # 95 % of a normal law; of the length of a 2-D normal vector

# reverberation: loudness that changes at F Hz is flattened by sqrt(1 + (2 pi F T / 13.8)^2), the
# modulation transfer function of Houtgast and Steeneken (1973), from memory; T of a furnished room
ECHO_S = 0.4


@dataclass(frozen=True)
class WheelTurns:
    """The sound wheel turn by wheel turn.

    Parameters
    ----------
    power : array [shape=(turns, STEPS)]
        Mean square of the high-passed sound in each part of each turn.
    """

    power: FloatArray

    @property
    def count(self) -> int:
        """Whole turns."""
        return len(self.power)


@dataclass(frozen=True, slots=True)
class OncePerTurn:
    """First harmonic over the wheel turn: its share of the mean, error, and depth in percent.

    ``strength`` is the amplitude over its standard error: about 1 if nothing repeats.
    """

    depth: Reading
    strength: float


def wheel_turns(even: EvenTurning, wheel_rate: float) -> WheelTurns:
    """Cut the evenly turning sound into wheel turns; ``wheel_rate`` in turns/s at mean speed."""
    per_turn = even.rate / wheel_rate
    count = int(even.samples.size / per_turn)
    if count < 1 or per_turn < 2 * STEPS:
        return WheelTurns(np.zeros((0, STEPS)))
    edges = np.round(np.arange(count * STEPS + 1) * per_turn / STEPS).astype(int)
    sums = np.diff(even.square_sums[edges])
    return WheelTurns((sums / np.diff(edges)).reshape(count, STEPS))


def loudness_modulation(
    turns: WheelTurns, background_power: float | None, wheel_rate: float = 0.0
) -> OncePerTurn:
    """Measure the depth of the once-per-turn change of the sound's amplitude.

    If the amplitude at the microphone goes as 1 + m·cos(wheel angle), m is found; an echoing room
    has flattened it already. The room's power is taken off
    first; without it (None) the depth is too small when the room is loud.

    Parameters
    ----------
    turns : WheelTurns
        At least six.
    background_power : float or None
        Mean square of the room in the same band.
    wheel_rate : float
        Wheel turns a second. An echoing room flattens quick turns more; how much it echoes is
        not known, so the upper end allows for a room of 0.4 s.
    """
    unit = "percent"
    if turns.count < LEAST_TURNS:
        reason = f"only {turns.count} whole wheel turns: at least {LEAST_TURNS} are needed"
        return OncePerTurn(NotMeasurable(reason, unit), 0.0)
    net = turns.power - (background_power or 0.0)
    level = slow_mean(turns.power.mean(1)) - (background_power or 0.0)
    if np.median(level) <= 0.1 * turns.power.mean():
        reason = "the room is as loud as the machine: the change over a turn drowns in it"
        return OncePerTurn(NotMeasurable(reason, unit), 0.0)
    share = net / np.maximum(level, 0.2 * np.median(level))[:, None]
    wave = np.exp(-2j * np.pi * (np.arange(STEPS) + 0.5) / STEPS)
    amplitude = np.sqrt(np.maximum(share.mean(0), 0))
    # of the mean profile: exact for 1 + m cos; of each turn: for the spread only
    depth = 2 * np.abs(np.mean(amplitude * wave)) / amplitude.mean()
    single = share @ wave / STEPS  # half of it in amplitude terms, twice as a peak value
    echo = before_echo(float(depth), wheel_rate) - float(depth)
    return _with_interval(float(depth), single, echo)


def before_echo(depth: float, wheel_rate: float) -> float:
    """Give the depth of an amplitude that a room of ``ECHO_S`` flattens to ``depth``."""
    # squared, 1 + m cos has the first harmonic 2m / (1 + m^2/2): the room flattens power
    power = 2 * depth / (1 + depth**2 / 2)
    power = min(power * float(np.hypot(1.0, 2 * np.pi * wheel_rate * ECHO_S / 13.8)), 4 / 3)
    return max(depth, (2 - float(np.sqrt(4 - 2 * power**2))) / power) if power > 0 else depth


def _with_interval(depth: float, single: np.ndarray, echo: float) -> OncePerTurn:
    count = single.size
    spread = np.sqrt((single.real.var(ddof=1) + single.imag.var(ddof=1)) / 2 / count)
    strength = float(np.abs(single.mean()) / max(spread, 1e-12))
    # the fit of the angle blurs the wave a little more: from simulations
    error = float(np.hypot(spread, 0.003 + 0.025 * depth))
    value = float(np.sqrt(max(depth**2 - 2 * error**2, 0.0)))
    low = 0.0 if strength < RAYLEIGH else max(0.0, depth - NORMAL * error)
    high = max(depth, value) + float(np.hypot(NORMAL * error, echo))
    estimate = Estimate(
        100 * value,
        100 * min(low, value),
        100 * high,
        "percent",
        method="first harmonic of the amplitude over the wheel turn; interval from turn to turn, "
        "its upper end with room for echo",
    )
    return OncePerTurn(estimate, strength)


def speed_swing(speed: FloatArray, hop_s: float, ratio: float) -> OncePerTurn:
    """Measure how far the motor's speed swings within a wheel turn, peak to peak.

    Parameters
    ----------
    speed : array [shape=(frames,)]
        Motor speed in 1/s every ``hop_s``.
    hop_s : float
        Seconds.
    ratio : float
        Motor turns for one wheel turn.
    """
    series = speed_series(speed, hop_s, ratio)
    count = series.size // STEPS
    if count < LEAST_TURNS:
        reason = f"only {count} whole wheel turns: at least {LEAST_TURNS} are needed"
        return OncePerTurn(NotMeasurable(reason, "percent"), 0.0)
    table = 1 + series.reshape(count, STEPS)
    table = table / slow_mean(table.mean(1))[:, None] - 1
    wave = np.exp(-2j * np.pi * (np.arange(STEPS) + 0.5) / STEPS)
    single = 2 * table @ wave / STEPS
    spread = float(np.sqrt((single.real.var(ddof=1) + single.imag.var(ddof=1)) / 2 / count))
    strength = float(np.abs(single.mean()) / max(spread, 1e-12))
    profile = _first_harmonics(table.mean(0), 4)
    noise = float(np.sqrt(table.var(0, ddof=1).mean() / count))
    value = float(np.ptp(profile))
    low = 0.0 if strength < RAYLEIGH else max(0.0, value - 2 * NORMAL * noise)
    estimate = Estimate(
        100 * value,
        100 * min(low, value),
        100 * (value + 2 * NORMAL * noise),
        "percent",
        method="mean over the wheel turn of the tracked speed, peak to peak",
    )
    return OncePerTurn(estimate, strength)


LINE_TURNS = 8  # window of the order spectrum of the envelope, in wheel turns; ours


def line_strength(series: FloatArray) -> float:
    """Say how far order 1 of the wheel stands out of a series, in dB.

    Parameters
    ----------
    series : array [shape=(turns * STEPS,)]
        Anything sampled ``STEPS`` times a wheel turn.

    Returns
    -------
    float
        Power at once per turn over the median from 0.4 to 2.6 per turn, in dB, from windows of
        eight turns; 0 if there are fewer turns.
    """
    size = LINE_TURNS * STEPS
    if series.size < size:
        return 0.0
    starts = range(0, series.size - size + 1, size // 2)
    window = np.hanning(size)
    total = np.zeros(size // 2 + 1)
    for first in starts:
        part = series[first : first + size]
        total += np.square(np.abs(np.fft.rfft((part - part.mean()) * window)))
    order = np.arange(total.size) / LINE_TURNS
    around = (order > 0.4) & (order < 2.6) & (np.abs(order - np.round(order)) > 0.2)
    return float(10 * np.log10((total[LINE_TURNS] + 1e-20) / (np.median(total[around]) + 1e-20)))


def loudness_series(turns: WheelTurns) -> FloatArray:
    """Log power in each part of each turn, one after the other, in dB."""
    return np.asarray(10 * np.log10(turns.power.ravel() + 1e-20))


def speed_series(speed: FloatArray, hop_s: float, ratio: float) -> FloatArray:
    """Relative motor speed ``STEPS`` times a wheel turn; empty under one turn."""
    angle = np.concatenate([[0.0], np.cumsum((speed[1:] + speed[:-1]) / 2)]) * hop_s / ratio
    grid = (np.arange(int(angle[-1]) * STEPS) + 0.5) / STEPS
    return np.asarray(np.interp(grid, angle, speed / speed.mean() - 1))


def turn_envelope(turns: WheelTurns) -> tuple[float, ...]:
    """Loudness (amplitude) over the wheel turn in 24 equal parts, mean 1."""
    if turns.count == 0:
        return ()
    share = turns.power / np.maximum(turns.power.mean(1, keepdims=True), 1e-20)
    amplitude = np.sqrt(share.mean(0))
    return tuple(float(a) for a in amplitude / amplitude.mean())


@dataclass(frozen=True, slots=True)
class Thump:
    """A bump over the wheel turn.

    Parameters
    ----------
    angle_deg : float
        Middle of the bump, degrees of wheel turn from the start of the steady part.
    height_db : float
        Above the rest of the turn.
    chance : float
        Chance of such a height anywhere in the turn if nothing repeated.
    """

    angle_deg: float
    height_db: float
    chance: float


def find_thumps(
    turns: WheelTurns, draws: int = 400, most_chance: float = 0.01
) -> tuple[Thump, ...]:
    """Find places in the wheel turn that are louder turn after turn.

    Each turn is shifted by a random angle to see how high the mean climbs by chance alone
    (permutation test on the maximum).
    """
    if turns.count < LEAST_TURNS:
        return ()
    level = 10 * np.log10(turns.power + 1e-20)
    level -= np.median(level, axis=1, keepdims=True)
    mean = level.mean(0)
    rng = np.random.default_rng(3)
    rows = np.arange(turns.count)[:, None]
    highest = np.empty(draws)
    for i in range(draws):
        shift = rng.integers(0, STEPS, (turns.count, 1))
        drawn = level[rows, (np.arange(STEPS) + shift) % STEPS].mean(0)
        highest[i] = (drawn - np.median(drawn)).max()
    height = mean - np.median(mean)
    found = []
    for i in range(STEPS):
        if height[i] < height[i - 1] or height[i] < height[(i + 1) % STEPS]:
            continue
        chance = float((np.sum(highest >= height[i]) + 1) / (draws + 1))
        if chance <= most_chance and height[i] > 0.5:
            found.append(Thump((i + 0.5) * 360 / STEPS, float(height[i]), chance))
    return tuple(found)


def slow_mean(per_turn: FloatArray) -> FloatArray:
    """Mean of each turn with its two neighbours: follows laps, not the turn itself."""
    padded = np.concatenate([per_turn[:1], per_turn, per_turn[-1:]])
    return np.asarray((padded[:-2] + padded[1:-1] + padded[2:]) / 3)


def _first_harmonics(profile: FloatArray, count: int) -> FloatArray:
    spectrum = np.fft.rfft(profile)
    spectrum[count + 1 :] = 0
    return np.asarray(np.fft.irfft(spectrum, profile.size))
