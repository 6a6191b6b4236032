"""The motor's speed over one running stretch, from the sound and what is known of the drive."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy.ndimage import gaussian_filter1d, uniform_filter1d

from outshop.bench.sound.digest import Float32Array
from outshop.bench.sound.drive import Drive
from outshop.bench.sound.evidence import Fit, Lines, fit, lay_lines, likelihood
from outshop.bench.sound.names import NamedOrder, named_orders
from outshop.bench.sound.refine import refine
from outshop.bench.sound.spectrum import LogAxis, whitened
from outshop.bench.sound.stretch import steady_frames, supported
from outshop.bench.sound.swing import swinging_path
from outshop.bench.sound.track import best_path, harmonic_sum, spot_evidence
from outshop.bench.sound.turn import (
    line_strength,
    loudness_series,
    speed_series,
    wheel_turns,
)
from outshop.bench.sound.warp import EvenTurning, OrderSpectrum, even_turning, order_spectrum
from outshop.bench.sound.weighting import FloatArray

HOP_S = 0.01  # ours: an eighth of the shortest wheel turn (about 0.08 s)
WINDOWS = ((0.03, 0.5), (0.06, 0.5))  # seconds and weight; short follows, long tells apart; ours
QUICK_HOP_S, QUICK_WINDOW_S, QUICK_BLOCK_S = 0.005, 0.022, 10.0  # for a swing at 12 Hz; ours
GLANCE_S, LEAST_DEPTH = 5.0, 0.025  # shallower swings are followed step by step; ours
QUICK_WHEEL = 2.0  # wheel turns a second; slower swings are followed step by step; ours
REACH, MOVE_COST = 5, 0.2  # steps of 0.72 % a hop, cost of one; ours, tuned on simulations
SCALE_SPEEDS_KMH = (8.0, 180.0)  # slower creeps, faster derails; ours
MOTOR_SPEEDS = (6.0, 1200.0)  # 1/s; motors of models: 20 to 700 with room to spare; ours
SPEED_STEPS = 0.0005  # of the search over the speed's scale
RIVAL, MOST_RIVALS = 0.02, 5  # readings closer than 2 % are one; ours
GIVEN_SPAN = 1.25  # a speed given from outside may be off by so much during a drift; ours
NEAR_SPAN = 1.3  # a second look: drift and swing fit in, an octave does not; ours
CENTRE_REACH, CENTRE_STEP = 0.006, 0.0002  # of the last centring, as shares; ours
WAVER_S = 0.4  # longer than most wheel turns; ours
USUAL_KMH = 45.0  # scale speed in the middle of 20 to 90, by logarithm; ours


@dataclass(frozen=True)
class Candidate:
    """One reading of a path: its motor speed and what speaks for it.

    Parameters
    ----------
    steady : slice
        Frames of the stretch that run steadily.
    speed : array [shape=(frames,)]
        Motor speed in 1/s every ``HOP_S`` over these frames.
    mean : float
        Its mean over the turned time, 1/s.
    score : float
        Mean harmonic sum along the path over the sum of weights.
    fit : Fit
        How well the order spectrum is explained.
    lead : float
        Log likelihood over that of the best rival more than 2 % away.
    loudness_line_db, speed_line_db : float
        How far once per wheel turn stands out in loudness and in speed.
    hurry : float
        Log of the scale speed over a usual one (45 km/h); 0 if unknown.
    waver : float
        Standard deviation of the log of the speed, single wheel turns smoothed away.
    even, spectrum, lines
        The evenly turning sound, its order spectrum, and that on a grid.
    """

    steady: slice
    speed: FloatArray
    mean: float
    score: float
    fit: Fit
    lead: float
    loudness_line_db: float
    speed_line_db: float
    hurry: float
    waver: float
    even: EvenTurning
    spectrum: OrderSpectrum
    lines: Lines


def speed_range(drive: Drive, scale_speed_km_h: float | None = None) -> tuple[float, float]:
    """Give the lowest and highest motor speed worth looking at, in 1/s."""
    low, high = MOTOR_SPEEDS
    factor = drive.kmh_per_motor_rate()
    if factor is None:
        return low, high
    if scale_speed_km_h is not None:
        given = scale_speed_km_h / factor
        return given / GIVEN_SPAN, given * GIVEN_SPAN
    slow, fast = max(low, SCALE_SPEEDS_KMH[0] / factor), min(high, SCALE_SPEEDS_KMH[1] / factor)
    return (slow, fast) if fast > 1.5 * slow else (low, high)


@dataclass(frozen=True)
class Sight:
    """A running stretch made ready for tracking.

    Parameters
    ----------
    samples : array [shape=(n,)]
        Sound, 22 to 44 kHz, hum taken off; at least a second.
    rate : float
        Sample rate in Hz.
    drive : Drive
        Poles or stages must be known.
    limits : (float, float)
        Motor speeds worth looking at, 1/s.
    """

    samples: Float32Array
    rate: float
    drive: Drive
    limits: tuple[float, float]

    @cached_property
    def orders(self) -> tuple[NamedOrder, ...]:
        """Orders of the drive."""
        return named_orders(self.drive)

    @cached_property
    def axis(self) -> LogAxis:
        """Frequencies of the spectrogram."""
        return LogAxis.up_to(0.45 * self.rate)

    @cached_property
    def evidence(self) -> Float32Array:
        """Evidence of the whitened spectrogram, short and long windows weighted."""
        excess_db = sum(
            np.float32(weight) * whitened(self.samples, self.rate, window, HOP_S, self.axis)
            for window, weight in WINDOWS
        )
        return spot_evidence(np.asarray(excess_db))

    def quick_sums(self, speeds: LogAxis, orders: FloatArray, weights: FloatArray) -> Float32Array:
        """Harmonic sums of short windows in short steps, for a speed that swings fast."""
        size = round(QUICK_BLOCK_S * self.rate)
        # block by block: the spectrogram of some minutes would take more memory than the rest
        return np.concatenate(
            [
                harmonic_sum(
                    spot_evidence(
                        whitened(
                            self.samples[start : start + size],
                            self.rate,
                            QUICK_WINDOW_S,
                            QUICK_HOP_S,
                            self.axis,
                        )
                    ),
                    self.axis,
                    orders,
                    weights,
                    speeds,
                )
                for start in range(0, self.samples.size, size)
            ]
        )


def track(sight: Sight) -> tuple[Candidate, ...]:
    """Track the motor through a stretch: the tracked reading, then rivals on the same lines."""
    return _read(sight, sight.limits, MOST_RIVALS)


def track_near(sight: Sight, mean: float) -> tuple[Candidate, ...]:
    """Track once more, only at speeds near ``mean`` (1/s): the path cannot jump an octave."""
    return _read(sight, (mean / NEAR_SPAN, mean * NEAR_SPAN), 0)


def track_swinging(sight: Sight, mean: float) -> tuple[Candidate, ...]:
    """Track a speed near ``mean`` (1/s) that swings within a wheel turn; none for slow wheels."""
    if sight.drive.ratio is None or mean / sight.drive.ratio < QUICK_WHEEL:
        return ()
    limits = (mean / NEAR_SPAN, mean * NEAR_SPAN)
    # a few seconds tell whether it swings at all
    middle, half = sight.samples.size // 2, round(GLANCE_S / 2 * sight.rate)
    glance = replace(sight, samples=sight.samples[max(0, middle - half) : middle + half])
    if _swing(glance, limits)[1] < LEAST_DEPTH:
        return ()
    return _read(sight, limits, 0, swinging=True)


def _read(
    sight: Sight, limits: tuple[float, float], most_rivals: int, *, swinging: bool = False
) -> tuple[Candidate, ...]:
    drive, rate = sight.drive, sight.rate
    numbers = np.array([o.order for o in sight.orders])
    weights = np.array([o.heard for o in sight.orders])
    first = _swinging_path if swinging else _first_path
    path, score, support = first(sight, limits, numbers, weights)
    steady = supported(steady_frames(path, HOP_S), support, HOP_S)
    path = path[steady]
    samples = sight.samples[int(steady.start * HOP_S * rate) : int(steady.stop * HOP_S * rate)]
    path = refine(samples, rate, path, HOP_S, numbers, weights)
    even = even_turning(samples, rate, path, HOP_S)
    spectrum = order_spectrum(even)
    lines = lay_lines(spectrum, 0.45 * rate)
    centre = _centred(spectrum, sight.orders, even.mean_speed)
    readings = _scales(lines, sight.orders, centre, sight.limits)[: most_rivals + 1]
    waver = float(np.std(uniform_filter1d(np.log(path), round(WAVER_S / HOP_S))))
    factor = drive.kmh_per_motor_rate()
    out = []
    for mean, lead in readings:
        speed = path * (mean / even.mean_speed)
        loud, swing = _wheel_lines(even, speed, mean, drive)
        out.append(
            Candidate(
                steady=steady,
                speed=speed,
                mean=mean,
                score=score,
                fit=fit(lines, spectrum, drive, sight.orders, mean),
                lead=lead,
                loudness_line_db=loud,
                speed_line_db=swing,
                hurry=float(np.log(mean * factor / USUAL_KMH)) if factor else 0.0,
                waver=waver,
                even=even,
                spectrum=spectrum,
                lines=lines,
            )
        )
    return tuple(out)


def _wheel_lines(
    even: EvenTurning, speed: FloatArray, mean: float, drive: Drive
) -> tuple[float, float]:
    if drive.ratio is None:
        return 0.0, 0.0
    turns = wheel_turns(even, mean / drive.ratio)
    loud = line_strength(loudness_series(turns))
    return loud, line_strength(speed_series(speed, HOP_S, drive.ratio))


def _first_path(
    sight: Sight, limits: tuple[float, float], orders: FloatArray, weights: FloatArray
) -> tuple[FloatArray, float, FloatArray]:
    speeds = LogAxis.up_to(limits[1], limits[0])
    sums = harmonic_sum(sight.evidence, sight.axis, orders, weights, speeds)
    states, score = best_path(sums, REACH, MOVE_COST)
    path = speeds.lowest_hz * np.exp2(gaussian_filter1d(states, 1.0) / speeds.steps_per_octave)
    support = sums[np.arange(states.size), states.astype(int)]
    return np.asarray(path), score / float(weights.sum()), np.asarray(support)


def _swing(sight: Sight, limits: tuple[float, float]) -> tuple[FloatArray, float]:
    numbers = np.array([o.order for o in sight.orders])
    weights = np.array([o.heard for o in sight.orders])
    speeds = _around(limits)
    sums = sight.quick_sums(speeds, numbers, weights)
    return swinging_path(sums, speeds, QUICK_HOP_S, sight.drive.ratio or 1.0, limits)


def _around(limits: tuple[float, float]) -> LogAxis:
    """Room for a swing beyond the limits of the mean."""
    return LogAxis.up_to(limits[1] * NEAR_SPAN, limits[0] / NEAR_SPAN)


def _swinging_path(
    sight: Sight, limits: tuple[float, float], orders: FloatArray, weights: FloatArray
) -> tuple[FloatArray, float, FloatArray]:
    speeds = _around(limits)
    path = _swing(sight, limits)[0][:: round(HOP_S / QUICK_HOP_S)]
    plain = harmonic_sum(sight.evidence, sight.axis, orders, weights, speeds)
    count = min(path.size, len(plain))
    states = np.round(np.log2(path[:count] / speeds.lowest_hz) * speeds.steps_per_octave)
    support = plain[np.arange(count), np.clip(states, 0, speeds.size - 1).astype(int)]
    return path[:count], float(support.mean() / weights.sum()), np.asarray(support)


def _centred(spectrum: OrderSpectrum, orders: tuple[NamedOrder, ...], mean: float) -> float:
    """Shift the mean speed so that the lines of the order spectrum lie on their orders."""
    shares = 1 + np.arange(-CENTRE_REACH, CENTRE_REACH, CENTRE_STEP)
    total = np.zeros(shares.size)
    for order in orders:
        at = np.interp(order.order * mean * shares, spectrum.frequency_hz, spectrum.excess_db)
        total += order.heard * np.maximum(at, 0)
    return float(mean * shares[total.argmax()])


def _scales(
    lines: Lines, orders: tuple[NamedOrder, ...], mean: float, limits: tuple[float, float]
) -> list[tuple[float, float]]:
    """Scales of the path worth weighing, each with its lead: the tracked one, then its rivals."""
    count = int(np.log(limits[1] / limits[0]) / SPEED_STEPS) + 1
    speeds = limits[0] * np.exp(SPEED_STEPS * np.arange(count))
    value = likelihood(lines, orders, speeds)
    own = float(likelihood(lines, orders, mean * np.exp(SPEED_STEPS * np.arange(-8, 9))).max())
    found = [(mean, own)]
    free = np.abs(np.log(speeds / mean)) > RIVAL
    while free.any() and len(found) < MOST_RIVALS + 1:
        best = int(np.argmax(np.where(free, value, -np.inf)))
        found.append((float(speeds[best]), float(value[best])))
        free &= np.abs(np.log(speeds / speeds[best])) > RIVAL
    best_two = [*sorted((v for _, v in found), reverse=True)[:2], 0.0]
    return [(m, v - (best_two[1] if v == best_two[0] else best_two[0])) for m, v in found]
