"""Blocks of a stretch's energy, and how far the mean of them is to be trusted."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri, stdtrit

from outshop.bench.sound.digest import Digest
from outshop.bench.sound.runs import Run
from outshop.bench.sound.weighting import FloatArray

BLOCK_S = 0.5  # bootstrap block; longer than room echo and speech rhythm; ours
EDGE_S = 0.3  # starts and stops are left out of steady levels; ours
LEAST_FOR_WANDER = 12  # blocks; fewer do not tell how alike neighbours are; ours
GUESS_DB = 3.0  # half width where nothing tells how the blocks scatter; ours
RESAMPLES = 1000  # Efron & Tibshirani (1993), An Introduction to the Bootstrap, section 14.3
ROWS = 50  # resamples drawn together; bounds memory
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Blocks:
    """Mean A-weighted squares of blocks in order of time.

    Parameters
    ----------
    power : ndarray [shape=(n,)]
        Mean square of each block.
    place : ndarray of int [shape=(n,)], optional
        Which part of the lap each block is; blocks of one place are alike but for chance.
    """

    power: FloatArray
    place: Ints | None = None

    @property
    def mean(self) -> float:
        """Mean square over all blocks."""
        return float(self.power.mean())

    @property
    def off(self) -> FloatArray:
        """What is left of each block when its expected value is taken off."""
        if self.place is None:
            return np.asarray(self.power - self.power.mean())
        places = np.bincount(self.place)
        usual = np.bincount(self.place, self.power) / np.maximum(places, 1)
        return np.asarray(self.power - usual[self.place])

    @property
    def freedom(self) -> int:
        """Degrees of freedom of their scatter."""
        known = 1 if self.place is None else np.unique(self.place).size
        return self.power.size - known


def cut_blocks(
    digest: Digest, runs: tuple[Run, ...], state: str, lap_s: float | None = None
) -> Blocks:
    """Cut the stretches of one state into blocks, the edges of each stretch left out.

    Parameters
    ----------
    digest : Digest
        The recording.
    runs : tuple of Run
        Its stretches, all or some.
    state : str
        ``running`` or ``still``.
    lap_s : float, optional
        Lap time: whole laps only are kept, so that no part of the way counts more than another.

    Returns
    -------
    Blocks
        None of them (an empty array) if nothing is in that state or all of it is silent.
    """
    pieces, places = [], []
    for number, run in enumerate(r for r in runs if r.state == state):
        edge = min(EDGE_S, run.duration_s / 10)
        first = round((run.start_s + (edge if run.start_s > 0 else 0)) / digest.slot_s)
        last = round((run.end_s - (edge if run.end_s < digest.duration_s else 0)) / digest.slot_s)
        slots = digest.power_a[first:last]
        laps = int(slots.size * digest.slot_s / lap_s) if lap_s else 0
        if lap_s and laps:
            parts = max(2, round(lap_s / BLOCK_S))
            borders = np.round(np.arange(laps * parts + 1) * lap_s / parts / digest.slot_s)
            pieces.append(_means(slots, np.minimum(borders, slots.size).astype(np.int64)))
            places.append(number * parts + np.tile(np.arange(parts), laps))
        elif slots.size and not lap_s:
            parts = max(1, round(slots.size * digest.slot_s / BLOCK_S))
            pieces.append(_means(slots, np.arange(parts + 1) * (slots.size // parts)))
    if not pieces and lap_s:  # not one whole lap
        return cut_blocks(digest, runs, state)
    power = np.concatenate(pieces) if pieces else np.zeros(0)
    if not power.any():
        return Blocks(np.zeros(0))
    return Blocks(power, np.concatenate(places) if places else None)


def _means(slots: FloatArray, borders: Ints) -> FloatArray:
    sums = np.concatenate([[0.0], np.cumsum(slots, dtype=np.float64)])[borders]
    return np.asarray(np.diff(sums) / np.maximum(np.diff(borders), 1))


def draw_means(blocks: Blocks, seed: int) -> FloatArray:
    """Draw the mean anew, widened for few blocks by Student's t.

    Parameters
    ----------
    blocks : Blocks
        What was measured.
    seed : int
        Of the draws.

    Returns
    -------
    ndarray [shape=(RESAMPLES,)]
        Means of blocks drawn with replacement; of a normal law where fewer than three are free.
    """
    if blocks.power.size == 0:
        return np.zeros(RESAMPLES)
    rng = np.random.default_rng(seed)
    count, free = blocks.power.size, blocks.freedom
    if free == 0:  # nothing tells how it scatters
        return np.asarray(blocks.mean * 10 ** rng.uniform(-GUESS_DB / 10, GUESS_DB / 10, RESAMPLES))
    off = blocks.off
    widen = np.sqrt(_alike(off) * count / free) * stdtrit(free, 0.975) / ndtri(0.975)
    if free < 3:
        spread = np.sqrt(np.square(off).mean() / count)
        return np.asarray(blocks.mean + widen * spread * rng.standard_normal(RESAMPLES))
    # a few at a time: an hour has 7200 blocks
    parts = (rng.integers(0, count, (ROWS, count)) for _ in range(RESAMPLES // ROWS))
    drawn = np.concatenate([off[picks].mean(1) for picks in parts])
    return np.asarray(blocks.mean + drawn * widen)


def _alike(off: FloatArray) -> float:
    """Give by how much neighbours that wander together widen the mean's variance, 1 or more.

    First-order autoregression, n_eff = n (1 - r) / (1 + r), r with the usual first-order
    correction (1 + 3 r) / n of its bias (Kendall 1954, from memory).
    """
    if off.size < LEAST_FOR_WANDER or not np.ptp(off):
        return 1.0
    alike = float((off[1:] * off[:-1]).sum() / np.square(off).sum())
    alike = min(max(alike + (1 + 3 * alike) / off.size, 0.0), 0.8)
    return (1 + alike) / (1 - alike)
