"""Motor speed over time: harmonic sums over a drive's orders, and the best path through them."""

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from outshop.bench.sound.digest import Float32Array
from outshop.bench.sound.spectrum import LogAxis
from outshop.bench.sound.weighting import FloatArray

BEYOND = 0.15  # slope of a spot's evidence above MOST; ours
GAIN_DB, LEAST, MOST = 6.0, -0.7, 3.0  # clipping of a spot's evidence; ours, tuned on simulations


def spot_evidence(excess_db: Float32Array) -> Float32Array:
    """Turn dB above the surroundings into evidence, strong tones bent, not cut, to keep a peak."""
    plain = np.asarray(excess_db, np.float32) / np.float32(GAIN_DB)
    bent = np.minimum(plain, MOST) + np.float32(BEYOND) * np.maximum(plain - MOST, 0)
    return np.asarray(np.maximum(bent, LEAST), np.float32)


def harmonic_sum(
    evidence: Float32Array, axis: LogAxis, orders: FloatArray, weights: FloatArray, speeds: LogAxis
) -> Float32Array:
    """Add up the evidence of all orders for each speed.

    Parameters
    ----------
    evidence : array [shape=(frames, axis.size)]
        :func:`spot_evidence` of a whitened spectrogram.
    axis : LogAxis
        Its frequencies.
    orders, weights : array [shape=(k,)]
        Orders and their weights.
    speeds : LogAxis
        Speeds wanted, in 1/s; same steps per octave as ``axis``.

    Returns
    -------
    array [shape=(frames, speeds.size)]
        Weighted sum; orders outside the axis add nothing.
    """
    total = np.zeros((len(evidence), speeds.size), np.float32)
    offset = axis.position(speeds.lowest_hz)
    for order, weight in zip(orders, weights, strict=True):
        shift = round(offset + np.log2(order) * axis.steps_per_octave)
        first, last = max(0, -shift), min(speeds.size, axis.size - shift)
        if first < last:
            total[:, first:last] += np.float32(weight) * evidence[:, first + shift : last + shift]
    return total


def best_path(score: Float32Array, reach: int, cost: float) -> tuple[FloatArray, float]:
    """Find the path of largest total score by dynamic programming.

    Parameters
    ----------
    score : array [shape=(frames, n)]
        Score of each state.
    reach : int
        Most steps that the path may move from frame to frame.
    cost : float
        Cost of a move of one step; grows linearly.

    Returns
    -------
    path : array [shape=(frames,)]
        State of each frame, as float.
    mean : float
        Mean score along the path, costs included.
    """
    frames, size = score.shape
    costs = (cost * np.abs(np.arange(-reach, reach + 1))).astype(np.float32)
    best = np.full((frames, size + 2 * reach), -np.inf, np.float32)
    inner = best[:, reach : reach + size]
    inner[:] = score
    windows = sliding_window_view(best, size, axis=1)
    options = np.empty((2 * reach + 1, size), np.float32)
    top = np.empty(size, np.float32)
    for i in range(1, frames):
        np.subtract(windows[i - 1], costs[:, None], out=options)
        np.maximum.reduce(options, axis=0, out=top)
        inner[i] += top
    state = int(inner[-1].argmax())
    mean = float(inner[-1, state]) / frames
    path = np.empty(frames)
    path[-1] = state
    # where each step came from is asked along the one path only
    for i in range(frames - 2, -1, -1):
        state += int((best[i, state : state + 2 * reach + 1] - costs).argmax()) - reach
        path[i] = state
    return path, mean
