"""Loudness once per wheel turn when the speed swings: what is common to all bands.

A swinging speed drives the tones over resonances of shell and room once per turn. That makes
each band louder or quieter in its own way, and some tones of the sum by half; a change of the
whole sound is the same in every band. How much the bands differ is the error.
"""

import numpy as np
import scipy.fft
from numpy.lib.stride_tricks import sliding_window_view
from scipy.special import stdtrit

from outshop.bench.sound.digest import Float32Array
from outshop.bench.sound.spectrum import squared
from outshop.bench.sound.turn import (
    LEAST_TURNS,
    NORMAL,
    RAYLEIGH,
    STEPS,
    before_echo,
    slow_mean,
)
from outshop.bench.sound.warp import EvenTurning
from outshop.bench.sound.weighting import FloatArray
from outshop.estimate import Estimate, NotMeasurable, Reading

WINDOW_S = 0.023  # an eighth of a quick wheel turn; ours
LOWEST_HZ, PER_OCTAVE = 200.0, 4  # bands wider than a window's line; ours
LEAST_BANDS = 5  # fewer leave no spread to judge by; ours
CLEAR_OF_ROOM = 0.5  # a band's machine must have this share of the room's power; ours
QUIETEST = 0.02  # share of the mean power; keeps the logarithm finite; ours
BLUR = (0.003, 0.025)  # the fit of the angle blurs the wave, as for even speeds


def common_modulation(
    even: EvenTurning, wheel_rate: float, room: Float32Array | None, room_rate: float
) -> Reading:
    """Measure the depth of the once-per-turn change that all bands share.

    Parameters
    ----------
    even : EvenTurning
        The evenly turning sound.
    wheel_rate : float
        Wheel turns a second at the mean speed.
    room : array [shape=(n,)] or None
        Sound of the room alone, hum taken off, at ``room_rate``.
    room_rate : float
        Sample rate in Hz.

    Returns
    -------
    Reading
        Percent, as m in amplitude = 1 + m·cos(wheel angle).
    """
    size = int(WINDOW_S * even.rate)
    per_turn = even.rate / wheel_rate
    count = int((even.samples.size - size) / per_turn)
    if count < LEAST_TURNS:
        reason = f"only {max(count, 0)} whole wheel turns: at least {LEAST_TURNS} are needed"
        return NotMeasurable(reason, "percent")
    edges = _edges(even.rate, size)
    middles = (np.arange(count * STEPS) + 0.5) * per_turn / STEPS
    starts = np.maximum(middles - size / 2, 0).astype(int)
    power = _bands(even.samples, starts, size, edges).reshape(count, STEPS, -1)
    quiet = np.zeros(power.shape[2])
    if room is not None and room_rate == even.rate and room.size > 4 * size:
        quiet = _bands(room, np.arange(0, room.size - size, size // 2), size, edges).mean(0)
    return _from_bands(power, quiet, wheel_rate)


def _edges(rate: float, size: int) -> np.ndarray:
    """First bins of the bands, and one beyond the last."""
    count = int(np.log2(0.42 * rate / LOWEST_HZ) * PER_OCTAVE) + 1
    frequency = LOWEST_HZ * np.exp2(np.arange(count) / PER_OCTAVE)
    return np.unique(np.round(frequency * size / rate).astype(int))


def _bands(samples: Float32Array, starts: np.ndarray, size: int, edges: np.ndarray) -> FloatArray:
    window = np.hanning(size).astype(np.float32)
    table = sliding_window_view(np.concatenate([samples, np.zeros(size, np.float32)]), size)
    out = np.empty((starts.size, edges.size - 1))
    for first in range(0, starts.size, 1024):  # bounds memory
        some = table[starts[first : first + 1024]] * window
        power = squared(scipy.fft.rfft(some, axis=1))
        out[first : first + 1024] = np.add.reduceat(power, edges, axis=1)[:, :-1]
    return out


def _from_bands(power: FloatArray, quiet: FloatArray, wheel_rate: float) -> Reading:
    """Depth from power of shape (turns, STEPS, bands) and the room's of shape (bands,)."""
    turn_level = np.stack([slow_mean(band) for band in power.mean(1).T], axis=1)
    level = turn_level - quiet
    clear = level.mean(0) > CLEAR_OF_ROOM * quiet
    if np.count_nonzero(clear) < LEAST_BANDS:
        reason = "the room is as loud as the machine: the change over a turn drowns in it"
        return NotMeasurable(reason, "percent")
    least = 0.2 * np.median(level, axis=0)
    share = ((power - quiet) / np.maximum(level, least)[:, None, :])[:, :, clear]
    wave = np.exp(-2j * np.pi * (np.arange(STEPS) + 0.5) / STEPS)
    log_amplitude = 0.5 * np.log(np.maximum(share.mean(0), QUIETEST))
    bands = 2 * np.mean(log_amplitude * wave[:, None], axis=0)
    common = _robust_mean(bands)
    off = np.abs(bands - common)
    independent = _independent(bands - common)
    # the smaller of two spreads: a few bands may stand wholly apart
    spread = min(float(np.sqrt(np.mean(off**2) / 2)), 1.5 * float(np.median(off)) / 1.177)
    single = np.tensordot(share, wave, (1, 0)).mean(1) / STEPS
    by_turn = np.sqrt((single.real.var(ddof=1) + single.imag.var(ddof=1)) / 2 / single.size)
    depth = _depth(float(abs(common)))
    error = float(np.sqrt(spread**2 / independent + by_turn**2 + (BLUR[0] + BLUR[1] * depth) ** 2))
    wide = float(stdtrit(independent - 1, 0.975)) * error
    low = 0.0 if depth < RAYLEIGH / NORMAL * wide else max(0.0, depth - wide)
    value = float(np.sqrt(max(depth**2 - 2 * error**2, 0.0)))
    high = max(depth, value) + float(np.hypot(wide, before_echo(depth, wheel_rate) - depth))
    return Estimate(
        100 * value,
        100 * min(low, value),
        100 * high,
        "percent",
        method="first harmonic of the amplitude over the wheel turn, common to all bands, for the "
        "speed swings; interval from band to band, its upper end with room for echo",
    )


def _independent(off: np.ndarray) -> float:
    """Give how many of the bands count: neighbours share a resonance (first-order correlation)."""
    alike = float((off[1:] * off[:-1].conj()).real.sum() / (np.square(np.abs(off)).sum() + 1e-30))
    alike = min(max(alike, 0.0), 0.8)
    return max(3.0, off.size * (1 - alike) / (1 + alike))


def _robust_mean(values: np.ndarray) -> complex:
    """Mean of complex numbers in which those far off count less (iterated weights, Huber 1964)."""
    mean = complex(values.mean())
    for _ in range(10):
        off = np.abs(values - mean)
        weight = 1 / np.maximum(off, 1.5 * np.median(off) + 1e-12)
        mean = complex((weight * values).sum() / weight.sum())
    return mean


def _depth(harmonic: float) -> float:
    """Give m from the first harmonic of ln(1 + m·cos), which is 2 (1 - sqrt(1 - m²)) / m."""
    harmonic = min(harmonic, 2.0)
    return 4 * harmonic / (4 + harmonic**2)
