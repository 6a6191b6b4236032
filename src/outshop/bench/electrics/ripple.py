"""Commutation ripple in a current log, and the motor speed that follows from it.

An armature of n poles with n odd draws 2n ripples a turn, with n even n ripples.
"""

import math

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaincinv

from outshop.bench.electrics.log import Bins, CurrentLog
from outshop.bench.electrics.phases import Phase
from outshop.bench.readings import student
from outshop.estimate import Estimate, NotMeasurable, Reading

Array = NDArray[np.float64]

FEWEST_PER_S = 200.0  # below it a usual ripple of 100 to 600 a second only shows folded down
LOWEST_HZ = 3.0  # below are wheel turns and the hand on the knob
DROPPED = 0.3  # of the running current; commutation never takes that much away
BLOCKS = 8
BATCHES = 20
CYCLES = 24  # of the line in the shortest block: enough to tell it from its neighbours
WANDER = 0.2  # most relative departure of the speed from its usual value
PARABOLA = 5e-5  # relative; what a parabola over the logarithm may be off
CLEAR = 30.0  # times the median power: noise alone rarely tops it in one block
MOSTLY = 0.9  # share of blocks that must show the line clearly
SHORTEST_BLOCK, LONGEST_BLOCK = 128, 32_768
NEIGHBOURS = 101  # frequencies over which the floor is taken
FALSE_ALARM = 1e-4  # chance that noise alone shows a line anywhere
MAINS_HZ = (50.0, 60.0, 100.0, 120.0)


def ripple_frequency(log: CurrentLog, bins: Bins, phases: list[Phase]) -> Reading:
    """Find the strongest line in the current while running steadily, 1/s.

    The longest run is cut into blocks; the line must stand out of the averaged spectrum
    more than noise would in one of ten thousand logs. It is then followed through the
    shortest blocks that still show it, because a motor's speed wanders; batch means over
    them give mean and Student's interval.
    """
    rate = 1 / log.step_s
    if rate < 0.98 * FEWEST_PER_S:  # stamps are rounded
        reason = f"{rate:.3g} readings a second are too few to see ripple: log 1000 a second"
        return NotMeasurable(reason, "1/s")
    runs = [p for p in phases if p.state == "running" and p.last - p.first > 4]
    if not runs:
        return NotMeasurable("the motor does not run steadily in this log", "1/s")
    longest = max(runs, key=lambda p: p.end_s - p.start_s)
    rows = slice(int(bins.first[longest.first + 1]), int(bins.last[longest.last - 2]))
    signal, rate = _uniform(log.time_s[rows], log.current_a[rows])
    usual = float(np.median(signal))
    signal = np.where(np.abs(signal) < DROPPED * abs(usual), usual, signal)  # dirt, not ripple
    if signal.size < SHORTEST_BLOCK // 2:
        return NotMeasurable("the run is too short to see ripple: log some seconds", "1/s")
    for length in _lengths(signal.size, rate):
        coarse = _line(_blocks(signal, length), rate)
        if coarse is not None:
            found = _followed(signal, rate, coarse)
            if found is not None:
                return _estimate(found, rate)
    return NotMeasurable("no ripple stands out of the noise", "1/s")


def motor_speed(ripple: Reading, poles: int) -> Reading:
    """Turn ripple into turns of the motor a second for an armature of so many poles."""
    if not isinstance(ripple, Estimate):
        return NotMeasurable(ripple.reason, "1/s")
    a_turn = 2 * poles if poles % 2 else poles
    return ripple / a_turn


def _uniform(time: Array, current: NDArray[np.floating]) -> tuple[Array, float]:
    """Bring readings to equal steps where their stamps jitter beyond rounding."""
    most = LONGEST_BLOCK * BLOCKS
    time, values = time[:most], current[:most].astype(np.float64)
    step = (time[-1] - time[0]) / (time.size - 1)
    even = time[0] + step * np.arange(time.size)
    if np.max(np.abs(time - even)) > 0.05 * step:
        values = np.interp(even, time, values)
    return values, 1 / step


def _lengths(size: int, rate: float) -> list[int]:
    """Give block lengths: long ones find a steady line, short ones a wandering one."""
    longest = min(size // BLOCKS if size >= BLOCKS * SHORTEST_BLOCK else size, LONGEST_BLOCK)
    wanted = [longest, *(round(seconds * rate) for seconds in (1.0, 0.25))]
    return sorted({n for n in wanted if SHORTEST_BLOCK // 2 <= n <= longest}, reverse=True)


def _blocks(signal: Array, length: int) -> Array:
    """Cut into blocks, shape (blocks, length), each without mean and slope."""
    count = signal.size // length
    blocks = signal[: count * length].reshape(count, length)
    x = np.linspace(-1, 1, length)
    slope = blocks @ x / (x @ x)
    return np.asarray(blocks - blocks.mean(axis=1, keepdims=True) - slope[:, None] * x)


def _line(blocks: Array, rate: float) -> float | None:
    """Give the frequency of the strongest line, if any stands out."""
    count, length = blocks.shape
    power = np.mean(np.abs(np.fft.rfft(blocks * np.hanning(length), axis=1)) ** 2, axis=0)
    hz = np.fft.rfftfreq(length, 1 / rate)
    floor = _floor(power) * count / float(gammaincinv(count, 0.5))  # median to mean of the noise
    usable = (hz >= max(LOWEST_HZ, 4 * rate / length)) & (hz < 0.49 * rate)
    if not usable.any() or not np.any(power > 0):
        return None
    needed = float(gammaincinv(count, 1 - FALSE_ALARM / usable.sum())) / count
    prominent = np.where(usable & (power > needed * floor), power, 0)
    # the strongest line, but never a slope of the slow wander: it must be a local top
    tops = np.zeros(power.size, dtype=bool)
    tops[1:-1] = (power[1:-1] >= power[:-2]) & (power[1:-1] >= power[2:])
    prominent = np.where(tops, prominent, 0)
    best = int(np.argmax(prominent))
    return float(hz[best]) if prominent[best] > 0 else None


def _floor(power: Array) -> Array:
    """Give the running median of the spectrum."""
    half = min(NEIGHBOURS, power.size // 4 * 2 + 1) // 2
    padded = np.pad(power, half, mode="reflect")
    windows = np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1)
    every = max(1, half // 4)
    sparse = np.median(windows[::every], axis=1)
    return np.interp(np.arange(power.size), np.arange(power.size)[::every], sparse)


def _followed(signal: Array, rate: float, coarse: float) -> Array | Estimate | None:
    """Give the line's frequency block by block, in the shortest blocks that still show it.

    None if most blocks show no such line: it was a stray.
    """
    cycles = max(SHORTEST_BLOCK // 2, round(CYCLES * rate / coarse))
    length = min(cycles, signal.size)
    while True:
        blocks = _blocks(signal, length)
        found, clear = _tops(blocks, rate, coarse)
        if clear.mean() >= MOSTLY or 2 * length > signal.size // BLOCKS:
            break
        length *= 2
    if found.size < 3:
        half = 2 * _single_error(blocks[0], rate, float(found[0]))
        return Estimate.plus_minus(float(found.mean()), half, "1/s")
    return found[clear] if clear.sum() >= 3 and clear.mean() >= 0.5 else None


def _tops(blocks: Array, rate: float, coarse: float) -> tuple[Array, NDArray[np.bool_]]:
    """Give each block's strongest frequency near ``coarse``, and whether it is clear there."""
    length = blocks.shape[1]
    padded = 4 * length  # so that a parabola over the logarithm is exact enough
    power = np.abs(np.fft.rfft(blocks * np.hanning(length), padded, axis=1)) ** 2 + 1e-300
    hz = np.fft.rfftfreq(padded, 1 / rate)
    near = np.flatnonzero(np.abs(hz - coarse) <= max(WANDER * coarse, 3 * rate / length))
    near = near[(near > 0) & (near < hz.size - 1)]
    best = near[np.argmax(power[:, near], axis=1)]
    row = np.arange(blocks.shape[0])
    left, middle, right = (np.log(power[row, best + k]) for k in (-1, 0, 1))
    bend = np.minimum(left - 2 * middle + right, -1e-12)
    shift = np.clip(0.5 * (left - right) / bend, -1, 1)
    clear = power[row, best] > CLEAR * np.median(power[:, 4:], axis=1)
    return hz[best] + shift * (hz[1] - hz[0]), clear


def _estimate(found: Array | Estimate, rate: float) -> Estimate:
    if isinstance(found, Estimate):
        mean, half = found.value, found.half_width
    else:
        batches = found
        if found.size >= 2 * BATCHES:
            batches = found[: found.size - found.size % BATCHES].reshape(BATCHES, -1).mean(axis=1)
        mean = float(found.mean())
        error = float(batches.std(ddof=1)) / math.sqrt(batches.size)
        half = student(batches.size - 1) * error
    notes = []
    near = [m for m in MAINS_HZ if abs(mean - m) < 0.005 * m]
    if near:
        notes.append(f"{mean:.1f} 1/s lies at a mains frequency: it may be the supply's hum")
    if mean > 0.4 * rate:
        notes.append("near half the logging rate: the true ripple may be faster and folded down")
    return Estimate.plus_minus(
        mean,
        max(half, PARABOLA * mean),
        "1/s",
        method="strongest line of the running current, followed block by block",
        warnings=tuple(notes),
    )


def _single_error(block: Array, rate: float, hz: float) -> float:
    """Cramer-Rao error of one tone's frequency (Rife and Boorstyn 1974), doubled for the window."""
    n = np.arange(block.size)
    basis = np.column_stack(
        (np.cos(2 * math.pi * hz / rate * n), np.sin(2 * math.pi * hz / rate * n))
    )
    fit, *_ = np.linalg.lstsq(basis, block, rcond=None)
    noise = float(np.var(block - basis @ fit))
    amplitude_squared = max(float(fit @ fit), 1e-30)
    return 2 * rate / (2 * math.pi) * math.sqrt(24 * noise / (amplitude_squared * block.size**3))
