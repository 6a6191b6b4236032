"""Fixed resonances: what rings in shell and baseboard stays where it is when the speed moves.

In decibels a spectrum is the sum of what turns with the motor, a function of frequency over
speed, and of what it passes through, a function of frequency alone. On a logarithmic axis a
change of speed shifts the one against the other, and least squares tell them apart.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import scipy.fft
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, median_filter

from outshop.bench.sound.digest import Float32Array
from outshop.bench.sound.spectrum import squared
from outshop.bench.sound.weighting import FloatArray

WINDOW_S, HOP_S = 0.08, 0.02  # lines 25 Hz wide, narrower than a resonance of quality 20; ours
LOWEST_HZ, HIGHEST_HZ, STEPS_PER_OCTAVE = 200.0, 9000.0, 48  # 1.4 % a step; ours
GROUPS = 12  # groups of like speed; ours
BLOCK_S = 1.0  # alternate seconds make the two halves that must agree; ours
LEAST_RANGE = 0.06  # of speed, slowest to fastest group: four steps of the axis; ours
CALM_SHARE = 0.03  # change of speed in half a window that smears no line; ours
LEAST_S = 4.0  # a third of a second for each group, no less; ours
LEAST_DB, LEAST_HALF_DB = 5.0, 3.0  # echo alone makes bumps of 4 dB; from simulations
DIP_DB = 2.0  # peaks with less of a dip between them are one; ours
RIDGE = 0.1  # what speed cannot tell apart is split evenly; ours
ROOM_LEFT = 0.05  # the room taken off leaves at least this share; ours


@dataclass(frozen=True, slots=True)
class Resonance:
    """A bump of the spectrum that does not move with the speed.

    Parameters
    ----------
    frequency_hz, low_hz, high_hz : float
        Its top, and where it has fallen by 3 dB.
    prominence_db, error_db : float
        Height above the surroundings, and its standard error.
    """

    frequency_hz: float
    low_hz: float
    high_hz: float
    prominence_db: float
    error_db: float


def speed_span(speed: FloatArray) -> float:
    """Relative difference between the fastest and the slowest twelfth of a speed path."""
    if speed.size < GROUPS:
        return 0.0
    low, high = np.quantile(speed, (0.5 / GROUPS, 1 - 0.5 / GROUPS))
    return float(high / low - 1)


def why_untold(speed: FloatArray, hop_s: float) -> str:
    """Say why resonances cannot be told from orders; empty if they can."""
    pace, calm = _pace(speed, hop_s, int(speed.size * hop_s / HOP_S))
    pace = pace[calm]
    if pace.size * HOP_S < LEAST_S:
        return (
            f"less than {LEAST_S:g} s of steady running, or a speed that swings too quickly: what "
            "stays where it is cannot be told from what moves with the speed"
        )
    span = speed_span(pace)
    if span < LEAST_RANGE:
        return (
            f"the speed varied by {span:.0%} only: what stays where it is cannot be told from what "
            "moves with the speed; record once more while the speed rises slowly"
        )
    return ""


def find_resonances(
    samples: Float32Array,
    rate: float,
    speed: FloatArray,
    hop_s: float,
    still: Float32Array | None = None,
) -> tuple[Resonance, ...]:
    """Find fixed resonances of a run whose speed varies.

    Parameters
    ----------
    samples : array [shape=(n,)]
        Sound of the steady run.
    rate : float
        Sample rate in Hz.
    speed : array [shape=(frames,)]
        Motor speed at multiples of ``hop_s``; a wrong factor does not matter.
    hop_s : float
        Seconds.
    still : array [shape=(m,)], optional
        Sound of the room, whose power is taken off.

    Returns
    -------
    tuple of Resonance
        By frequency; none if they cannot be told, see :func:`why_untold`.
    """
    if why_untold(speed, hop_s):
        return ()
    frames = int(min(samples.size / rate, speed.size * hop_s) / HOP_S)
    pace, calm = _pace(speed, hop_s, frames)
    frequency, power = _spectra(samples, rate, frames)
    if still is not None and still.size > rate:
        room = _spectra(still, rate, int(still.size / rate / HOP_S))[1].mean(0)
        power = np.maximum(power - room, ROOM_LEFT * power)
    half = (np.arange(frames) * HOP_S / BLOCK_S).astype(int)[calm] % 2
    power, pace = power[calm], pace[calm]
    whole = _bumps(power, pace)
    halves = [_bumps(power[half == h], pace[half == h]) for h in (0, 1)]
    return tuple(_peaks(frequency, whole, halves[0], halves[1]))


def as_rows(
    found: tuple[Resonance, ...], orders: tuple[Mapping[str, Any], ...], span: float
) -> tuple[Mapping[str, Any], ...]:
    """List resonances with the heard tones of the drive that pass through them.

    ``orders`` as from the order table; ``span`` is the relative range of the speed.
    """
    return tuple(
        {
            "frequency_hz": r.frequency_hz,
            "low_hz": r.low_hz,
            "high_hz": r.high_hz,
            "prominence_db": r.prominence_db,
            "error_db": r.error_db,
            "excited_by": [
                o["name"]
                for o in orders
                if o["heard"]
                and r.low_hz < o["frequency_hz"] * (1 + span / 2)
                and r.high_hz > o["frequency_hz"] * (1 - span / 2)
            ],
        }
        for r in found
    )


def _spectra(samples: Float32Array, rate: float, frames: int) -> tuple[FloatArray, FloatArray]:
    """Mean power in logarithmic steps, shape (frames, steps), and their midbands in Hz."""
    size = int(WINDOW_S * rate)
    padded = scipy.fft.next_fast_len(size, real=True)
    count = int(np.log2(min(HIGHEST_HZ, 0.42 * rate) / LOWEST_HZ) * STEPS_PER_OCTAVE)
    edges = LOWEST_HZ * np.exp2((np.arange(count + 1) - 0.5) / STEPS_PER_OCTAVE)
    place = edges * padded / rate + 0.5  # bin k reaches from k - 1/2 to k + 1/2
    below = place.astype(int)
    share = place - below
    window = np.hanning(size).astype(np.float32)
    shield = np.concatenate([samples, np.zeros(size, np.float32)])
    table = sliding_window_view(shield, size)
    starts = (np.arange(frames) * HOP_S * rate).astype(int)
    out = np.empty((frames, count))
    for first in range(0, frames, 512):  # bounds memory
        block = table[starts[first : first + 512]] * window
        power = squared(scipy.fft.rfft(block, padded, axis=1))
        total = np.cumsum(power, axis=1, dtype=float)
        total = np.concatenate([np.zeros((len(total), 1)), total], axis=1)
        at = total[:, below] * (1 - share) + total[:, below + 1] * share
        out[first : first + 512] = np.diff(at, axis=1) / np.diff(place)
    return np.sqrt(edges[1:] * edges[:-1]), out


def _pace(speed: FloatArray, hop_s: float, frames: int) -> tuple[FloatArray, NDArray[np.bool_]]:
    """Mean speed in each window, and whether it holds still enough for lines to stay sharp."""
    middle = np.arange(frames) * HOP_S + WINDOW_S / 2
    offsets = WINDOW_S * (np.arange(9) - 4) / 8
    weights = np.hanning(11)[1:-1]
    at = np.interp(middle[:, None] + offsets, np.arange(speed.size) * hop_s, speed)
    pace = at @ weights / weights.sum()
    return pace, (np.ptp(at[:, 2:-2], axis=1) < CALM_SHARE * pace)


def _bumps(power: FloatArray, pace: FloatArray) -> FloatArray:
    """How far the fixed part of the spectrum stands above its surroundings, dB."""
    loudness = np.median(power, axis=1, keepdims=True)  # laps come and go
    power = power / np.maximum(loudness, 1e-30)
    groups = np.array_split(np.argsort(pace), GROUPS)
    level = np.array([10 * np.log10(power[g].mean(0) + 1e-20) for g in groups])
    log_pace = np.array([np.log2(pace[g]).mean() for g in groups])
    shift = (log_pace - log_pace.mean()) * STEPS_PER_OCTAVE
    fixed = gaussian_filter1d(_fixed_part(level - level.mean(1, keepdims=True), shift), 0.7)
    around = median_filter(fixed, int(0.8 * STEPS_PER_OCTAVE) | 1, mode="nearest")
    return np.asarray(fixed - around)


def _fixed_part(level: FloatArray, shift: FloatArray) -> FloatArray:
    """Least squares of level[k, n] = fixed[n] + moving[n - shift[k]], the fixed part."""
    groups, count = level.shape
    lowest = int(np.floor(-shift.max())) - 1
    size = count + count + int(np.ceil(np.ptp(shift))) + 4
    normal = RIDGE * np.eye(size)
    right = np.zeros(size)
    steps = np.arange(count)
    for k in range(groups):
        place = steps - shift[k] - lowest
        left = place.astype(int)
        share = place - left
        columns = ((steps, np.ones(count)), (count + left, 1 - share), (count + left + 1, share))
        for one, weight in columns:
            np.add.at(right, one, weight * level[k])
            for other, much in columns:
                np.add.at(normal, (one, other), weight * much)
    return np.asarray(np.linalg.solve(normal, right)[:count])


def _peaks(
    frequency: FloatArray, whole: FloatArray, one: FloatArray, other: FloatArray
) -> list[Resonance]:
    found: list[Resonance] = []
    last = -1
    for i in range(2, whole.size - 2):
        if whole[i] < LEAST_DB or whole[i] < whole[i - 1] or whole[i] <= whole[i + 1]:
            continue
        near = slice(i - 1, i + 2)  # halves may differ by a step
        heights = one[near].max(), other[near].max()
        if min(heights) < LEAST_HALF_DB:
            continue
        fresh = _resonance(frequency, whole, i, abs(heights[0] - heights[1]) / 2)
        if last >= 0 and whole[last:i].min() > min(whole[last], whole[i]) - DIP_DB:
            if whole[i] > whole[last]:
                found[-1], last = fresh, i
            continue
        found.append(fresh)
        last = i
    return found


def _resonance(frequency: FloatArray, whole: FloatArray, top: int, error: float) -> Resonance:
    low = top
    while low > 0 and whole[low] > whole[top] - 3:
        low -= 1
    high = top
    while high < whole.size - 1 and whole[high] > whole[top] - 3:
        high += 1
    left, mid, right = whole[top - 1 : top + 2]
    bend = left - 2 * mid + right
    offset = 0.5 * (left - right) / bend if bend < 0 else 0.0
    return Resonance(
        float(frequency[top] * np.exp2(offset / STEPS_PER_OCTAVE)),
        float(frequency[low]),
        float(frequency[high]),
        float(mid),
        float(error),
    )
