"""A speed that swings within each wheel turn, too fast for a path to follow step by step.

A wheel that binds slows the drive once per turn, and the ratio tells how often that is. So whole
wheel turns are laid over the harmonic sums at once: mean speed, depth and phase are found piece
by piece, the mean from piece to piece by dynamic programming.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from outshop.bench.sound.digest import Float32Array
from outshop.bench.sound.spectrum import LogAxis
from outshop.bench.sound.track import best_path
from outshop.bench.sound.weighting import FloatArray

PIECE_S = 1.0  # some wheel turns; a drift within it is small; ours
DEPTHS, PHASES = np.arange(0, 0.19, 0.03), 16  # first look; 15 % is asked for; ours
CLOSER_DEPTHS = np.arange(-0.03, 0.031, 0.01)  # around the first look's best; ours
CLOSER_PHASES = np.arange(-1, 1.1, 0.5) / PHASES  # in turns; ours
MEAN_STEP = 3  # steps of the axis between the means of the first look; ours
FEWER = 2  # frames left out by the first look; ours
MOVE, MOVE_COST = 2, 0.05  # of the mean from piece to piece; ours


@dataclass(frozen=True, slots=True)
class Shape:
    """How the speed goes around its mean: depth as a share, phase in turns."""

    depth: FloatArray
    phase: FloatArray


def swinging_path(
    sums: Float32Array, speeds: LogAxis, hop_s: float, ratio: float, span: tuple[float, float]
) -> tuple[FloatArray, float]:
    """Find the path of a speed that swings once per wheel turn.

    Where the wheel's angle θ changes at Ω(1 + a cos θ), the speed over time is
    m √(1 − a²) / (1 − a cos τ) with its mean over time m and τ = 2π m t / r: put the tangent
    of the half angle.

    Parameters
    ----------
    sums : array [shape=(frames, speeds.size)]
        Harmonic sums, short windows.
    speeds : LogAxis
        Their speeds in 1/s.
    hop_s : float
        Step of the frames in seconds.
    ratio : float
        Motor turns for one wheel turn.
    span : (float, float)
        Mean speeds to try, 1/s.

    Returns
    -------
    path : array [shape=(frames,)]
        Speed in 1/s.
    depth : float
        How deep it swings, as a share of the mean: the median over the pieces.
    """
    size = min(round(PIECE_S / hop_s), len(sums))
    starts = _starts(len(sums), size)
    first, last = speeds.position(span[0]), min(speeds.position(span[1]), speeds.size - 1)
    means = np.arange(max(0.0, first), last, MEAN_STEP)
    score, shape = _first_look(sums, speeds, means, starts, size, hop_s, ratio)
    columns, _ = best_path(score, MOVE, MOVE_COST)
    total, weight, depths = np.zeros(len(sums)), np.full(len(sums), 1e-9), []
    window = np.hanning(size + 2)[1:-1]
    for row, (start, column) in enumerate(zip(starts, columns.astype(int), strict=True)):
        piece = sums[start : start + size]
        states, depth = _closer(piece, speeds, means[column], shape[row, column], hop_s, ratio)
        depths.append(depth)
        total[start : start + size] += window * states
        weight[start : start + size] += window
    path = speeds.lowest_hz * np.exp2(total / weight / speeds.steps_per_octave)
    return np.asarray(path), float(np.median(depths))


def _first_look(
    sums: Float32Array,
    speeds: LogAxis,
    means: FloatArray,
    starts: list[int],
    size: int,
    hop_s: float,
    ratio: float,
) -> tuple[Float32Array, NDArray[np.intp]]:
    """Give the best sum of each piece at each mean, and the number of its shape."""
    score = np.empty((len(starts), means.size), np.float32)
    shape = np.empty(score.shape, int)
    time_s = np.asarray((np.arange(0, size, FEWER) - size / 2) * hop_s, np.float64)
    for column, mean in enumerate(means):
        states = _states(speeds, mean, _first_shapes(), time_s, ratio)
        for row, start in enumerate(starts):
            value = _along(sums[start : start + size : FEWER], states)
            shape[row, column] = value.argmax()
            score[row, column] = value.max()
    return score, shape


def _closer(
    piece: Float32Array, speeds: LogAxis, mean: float, number: int, hop_s: float, ratio: float
) -> tuple[FloatArray, float]:
    """Try means, depths and phases close to the first look's; give the states and the depth."""
    first = _first_shapes()
    depths = np.clip(first.depth[number] + CLOSER_DEPTHS, 0.0, 0.2)
    phases = first.phase[number] + CLOSER_PHASES
    shapes = Shape(np.repeat(depths, phases.size), np.tile(phases, depths.size))
    time_s = np.asarray((np.arange(len(piece)) - len(piece) / 2) * hop_s, np.float64)
    best, found = -np.inf, (np.zeros(len(piece)), 0.0)
    for near in mean + np.arange(1 - MEAN_STEP, MEAN_STEP, 0.5):
        states = _states(speeds, near, shapes, time_s, ratio)
        value = _along(piece, states)
        if value.max() > best:
            row = int(value.argmax())
            best, found = value[row], (states[row], float(shapes.depth[row]))
    return found


def _first_shapes() -> Shape:
    phases = np.arange(PHASES) / PHASES
    return Shape(np.repeat(DEPTHS, PHASES), np.tile(phases, DEPTHS.size))


def _states(
    speeds: LogAxis, mean: float, shapes: Shape, time_s: FloatArray, ratio: float
) -> FloatArray:
    """Give the place on the axis over time for each shape, shape (shapes, frames)."""
    turns_s = speeds.lowest_hz * np.exp2(mean / speeds.steps_per_octave) / ratio
    cosine = np.cos(2 * np.pi * (turns_s * time_s + shapes.phase[:, None]))
    a = shapes.depth[:, None]
    above = np.log2(np.sqrt(1 - a * a) / (1 - a * cosine))
    return np.asarray(np.clip(mean + above * speeds.steps_per_octave, 0, speeds.size - 1))


def _along(piece: Float32Array, states: FloatArray) -> FloatArray:
    """Mean sum along each row of states."""
    place = np.round(states).astype(np.int32) + np.arange(len(piece)) * piece.shape[1]
    return np.asarray(np.take(np.ascontiguousarray(piece), place).mean(1))


def _starts(frames: int, size: int) -> list[int]:
    """Begin of each piece; they overlap by half, and the last one ends with the sound."""
    return [*range(0, max(frames - size, 1), max(size // 2, 1)), frames - size]
