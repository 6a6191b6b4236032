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
    moves = np.arange(-reach, reach + 1)
    costs = (cost * np.abs(moves)).astype(np.float32)
    back = np.empty((frames, size), np.int8)
    padded = np.full(size + 2 * reach, -np.inf, np.float32)
    inner = padded[reach : reach + size]
    view = sliding_window_view(padded, 2 * reach + 1)
    inner[:] = score[0]
    rows = np.arange(size)
    for i in range(1, frames):
        options = view - costs
        choice = options.argmax(1)
        back[i] = choice
        inner[:] = options[rows, choice] + score[i]
    state = int(inner.argmax())
    mean = float(inner[state]) / frames
    path = np.empty(frames)
    for i in range(frames - 1, -1, -1):
        path[i] = state
        if i:
            state += int(back[i, state]) - reach
    return path, mean
