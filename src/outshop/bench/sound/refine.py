"""Sharpen a speed path: turn the sound even, see what still wavers, correct, repeat."""

import numpy as np
import scipy.fft
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, uniform_filter1d

from outshop.bench.sound.digest import Float32Array
from outshop.bench.sound.filters import slower
from outshop.bench.sound.spectrum import CHUNK, decibel, squared
from outshop.bench.sound.track import best_path, spot_evidence
from outshop.bench.sound.warp import EvenTurning, even_turning, spline_of
from outshop.bench.sound.weighting import FloatArray

# window and hop in s, reach and step of the correction; ours, tuned on simulations: short
# windows first, for a long one locks onto the turning points of a swing within a wheel turn
ROUNDS = ((0.03, 0.01, 0.05, 0.0025), (0.06, 0.02, 0.03, 0.0015), (0.12, 0.02, 0.015, 0.0008))
MOVE, MOVE_COST, SMOOTH_S = 3, 0.3, 0.01  # steps in 10 ms, cost of one, smoothing; ours, tuned
FLOOR_BINS = 30  # half width of a line's surroundings, wider than a main lobe; ours
HIGHEST = 0.47  # of the sample rate; higher lines are not looked at; ours
PASSED, MARGIN_HZ = 0.36, 500.0  # of the reduced rate; a line's surroundings at 30 ms; ours
LOWEST_HZ = 40.0  # lower lines are hidden by the window's width; ours


def refine(
    samples: Float32Array,
    rate: float,
    speed: FloatArray,
    hop_s: float,
    orders: FloatArray,
    weights: FloatArray,
) -> FloatArray:
    """Correct a path of the motor speed.

    Parameters
    ----------
    samples : array [shape=(n,)]
        Sound.
    rate : float
        Sample rate in Hz.
    speed : array [shape=(frames,)]
        Motor speed in 1/s at multiples of ``hop_s``, right within about 2 %.
    hop_s : float
        Step in seconds.
    orders, weights : array [shape=(k,)]
        Orders of the drive and their weights.

    Returns
    -------
    array [shape=(frames,)]
        Corrected speed in 1/s.
    """
    heard = orders[orders * speed.mean() < HIGHEST * rate]
    samples, rate = _slower(samples, rate, float(heard.max(initial=1.0) * speed.max()))
    spline = spline_of(samples)
    for window_s, step_s, reach, step in ROUNDS:
        even = even_turning(samples, rate, speed, hop_s, spline)
        shares = np.arange(-reach, reach + step / 2, step)
        score = _score(even, even.mean_speed * (1 + shares), window_s, step_s, orders, weights)
        longer = step_s / 0.01  # fewer frames: each may move further, and for less
        path, _ = best_path(score, round(MOVE * longer), MOVE_COST / longer)
        correction = 1 + gaussian_filter1d(shares[path.astype(int)], SMOOTH_S / step_s)
        # the frames count turned time: find each real moment's place in it
        frame = even.turned_s / step_s
        speed = speed * np.interp(frame, np.arange(correction.size), correction)
    return speed


def _slower(samples: Float32Array, rate: float, highest_hz: float) -> tuple[Float32Array, float]:
    """Reduce the sample rate to what tones up to ``highest_hz`` need."""
    factor = int(PASSED * rate / (highest_hz + MARGIN_HZ))
    if factor < 2:
        return samples, rate
    return slower(samples, factor), rate / factor


def _score(
    even: EvenTurning,
    speeds: FloatArray,
    window_s: float,
    hop_s: float,
    orders: FloatArray,
    weights: FloatArray,
) -> Float32Array:
    """Harmonic sums at each of a few speeds near the mean, shape (frames, speeds)."""
    rate = even.rate
    size = int(window_s * rate)
    padded = scipy.fft.next_fast_len(2 * size, real=True)
    frames = max(1, int(even.samples.size / rate / hop_s))
    edge = np.zeros(size, np.float32)
    shield = np.concatenate([edge, even.samples, edge])
    starts = (np.arange(frames) * hop_s * rate + size - size // 2).astype(int)
    table = np.lib.stride_tricks.sliding_window_view(shield, size)
    window = np.hanning(size).astype(np.float32)
    visible = np.array([_visible(order, speeds, rate) for order in orders], bool)
    total = np.zeros((frames, speeds.size), np.float32)
    if not visible.any():
        return total
    place = orders[visible, None] * speeds * padded / rate
    bins, mix = _mixing(place, weights[visible])
    used = int(bins[-1]) + 1 + FLOOR_BINS  # what lies higher is not looked at
    for first in range(0, frames, CHUNK):
        block = table[starts[first : first + CHUNK]] * window
        level = decibel(squared(scipy.fft.rfft(block, padded, axis=1)[:, :used]))
        floor = uniform_filter1d(level, 2 * FLOOR_BINS + 1, axis=1)
        total[first : first + CHUNK] = spot_evidence(level[:, bins] - floor[:, bins]) @ mix
    return total


def _mixing(place: FloatArray, weights: FloatArray) -> tuple[NDArray[np.intp], Float32Array]:
    """Bins that the orders touch, and the weight of each at each speed, shape (bins, speeds)."""
    below = place.astype(int)
    share = place - below
    bins = np.unique(np.concatenate([below.ravel(), below.ravel() + 1]))
    mix = np.zeros((bins.size, place.shape[1]), np.float32)
    column = np.arange(place.shape[1])
    for at, part, weight in zip(below, share, weights, strict=True):
        row = np.searchsorted(bins, at)
        np.add.at(mix, (row, column), weight * (1 - part))
        np.add.at(mix, (row + 1, column), weight * part)
    return bins, mix


def _visible(order: float, speeds: FloatArray, rate: float) -> bool:
    return bool(order * speeds[0] > LOWEST_HZ and order * speeds[-1] < HIGHEST * rate)
