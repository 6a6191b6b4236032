"""Equivalent levels of run and room, the room taken off, with bootstrap intervals."""

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri, stdtrit

from outshop.bench.sound.digest import Digest
from outshop.bench.sound.runs import Run
from outshop.bench.sound.weighting import FloatArray
from outshop.estimate import Estimate, NotMeasurable, Reading

BLOCK_S = 0.5  # bootstrap block; longer than room echo and speech rhythm; ours
LEAST_FOR_WANDER = 12  # blocks; fewer do not tell how alike neighbours are; ours
GUESS_DB = 3.0  # half width where a single block tells nothing about its scatter; ours
RESAMPLES = 1000  # Efron & Tibshirani (1993), An Introduction to the Bootstrap, section 14.3
ROWS = 50  # resamples drawn together; bounds memory
LEAST_GAP_DB = 3.0  # ISO 3744-type practice (from memory): below, no correction is allowed
UNIT = "dB(A)"
FULL_SCALE_SINE = 2.0  # mean square of a sine of amplitude 1 is 1/2
EDGE_S = 0.3  # starts and stops are left out of steady levels; ours


@dataclass(frozen=True, slots=True)
class Levels:
    """Levels of a recording, A-weighted.

    Parameters
    ----------
    level : Reading
        Of the machine: the room's share taken off where that is allowed.
    as_recorded : Reading
        Of the running time as it stands in the recording.
    background : Reading
        Of the still time.
    room_change : Reading
        dB: by how much the room grew louder from before the first run to after the last. An
        automatic gain that recovers from the run shows here.
    """

    level: Reading
    as_recorded: Reading
    background: Reading
    room_change: Reading


def measure_levels(
    digest: Digest,
    runs: tuple[Run, ...],
    full_scale_db: float | None = None,
    lap_s: float | None = None,
) -> Levels:
    """Measure LAeq of run and room.

    Parameters
    ----------
    digest : Digest
        The recording.
    runs : tuple of Run
        Its still and running stretches.
    full_scale_db : float, optional
        Level of a full-scale sine in dB SPL; without it a full-scale sine counts as 0 dB.
    lap_s : float, optional
        Lap time: bootstrap blocks then hold whole laps.

    Returns
    -------
    Levels
        Readings in dB(A).
    """
    offset = full_scale_db or 0.0
    notes = () if full_scale_db is not None else ("levels are relative to full scale",)
    run_blocks = _blocks(digest, runs, "running", lap_s)
    still_blocks = _blocks(digest, runs, "still", None)
    if 1 in (run_blocks.size, still_blocks.size):
        notes = (*notes, f"too short for an interval: the width is a guess of {GUESS_DB:g} dB")
    run_draws = _draws(run_blocks, seed=1)
    still_draws = _draws(still_blocks, seed=2)
    change = _room_change(digest, runs)
    recorded = _as_level(run_blocks, run_draws, offset, "LAeq of the running time", notes)
    if recorded is None:
        nothing = NotMeasurable("nothing runs in this recording", UNIT)
        room = _as_level(still_blocks, still_draws, offset, "LAeq of the still time", notes)
        empty = NotMeasurable("the recording is empty", UNIT)
        return Levels(nothing, nothing, room or empty, change)
    room = _as_level(still_blocks, still_draws, offset, "LAeq of the still time", notes)
    if room is None:
        note = "no still time in the recording: the room's noise is not taken off"
        missing = NotMeasurable("no still time in the recording", UNIT)
        return Levels(recorded.with_note(note), recorded, missing, change)
    gap = recorded.value - room.value
    if gap < LEAST_GAP_DB:
        reason = (
            f"the run is only {gap:.1f} dB above the background, less than {LEAST_GAP_DB:g} dB: "
            f"it cannot be corrected; the machine is at most {recorded.high:.1f} dB(A)"
        )
        return Levels(NotMeasurable(reason, UNIT), recorded, room, change)
    net = float(run_blocks.mean() - still_blocks.mean())
    net_draws = run_draws - still_draws
    corrected = _estimate(
        net, net_draws, offset, "LAeq of the running time less the background's energy", notes
    )
    return Levels(corrected, recorded, room, change)


def _room_change(digest: Digest, runs: tuple[Run, ...]) -> Reading:
    """Level of the still time after the last run less that before the first."""
    around = [runs[0], runs[-1]]
    if len(runs) < 3 or any(r.state != "still" for r in around):
        return NotMeasurable("no still time both before and after the run", "dB")
    means, errors = [], []
    for run in around:
        blocks = _blocks(digest, (run,), "still", None)
        if blocks.size < 2:
            return NotMeasurable("too little still time before or after the run", "dB")
        means.append(_decibel(float(np.median(blocks))))
        errors.append(4.34 * blocks.std(ddof=1) / blocks.mean() / np.sqrt(blocks.size))
    half = 1.96 * max(float(np.hypot(*errors)), 0.2)
    return Estimate.plus_minus(means[1] - means[0], half, "dB", method="LAeq after less before")


def _blocks(digest: Digest, runs: tuple[Run, ...], state: str, lap_s: float | None) -> FloatArray:
    """Mean A-weighted squares of blocks of the given state, edges of each stretch left out."""
    pieces = []
    length = lap_s or BLOCK_S
    for run in runs:
        if run.state != state:
            continue
        edge = min(EDGE_S, run.duration_s / 10)
        first = round((run.start_s + (edge if run.start_s > 0 else 0)) / digest.slot_s)
        last = round((run.end_s - (edge if run.end_s < digest.duration_s else 0)) / digest.slot_s)
        slots = digest.power_a[first:last]
        parts = max(1, round(slots.size * digest.slot_s / length))
        if slots.size:
            usable = slots.size // parts
            pieces.append(slots[: usable * parts].reshape(parts, usable).mean(1))
    if not pieces:
        return np.zeros(0)
    blocks = np.concatenate(pieces)
    return blocks if blocks.any() else np.zeros(0)


def _draws(blocks: FloatArray, seed: int) -> FloatArray:
    """Bootstrap means, widened for the small number of blocks by Student's t."""
    count = blocks.size
    if count == 0:
        return np.zeros(RESAMPLES)
    mean = blocks.mean()
    rng = np.random.default_rng(seed)
    if count == 1:  # nothing tells how it scatters
        return np.asarray(mean * 10 ** rng.uniform(-GUESS_DB / 10, GUESS_DB / 10, RESAMPLES))
    if count == 2:  # too few to draw from: a normal law, as wide as Student's t of one degree
        error = blocks.std(ddof=1) / np.sqrt(2) * stdtrit(1, 0.975) / ndtri(0.975)
        return np.asarray(mean + error * rng.standard_normal(RESAMPLES))
    # a few at a time: an hour has 7200 blocks
    parts = (rng.integers(0, count, (ROWS, count)) for _ in range(RESAMPLES // ROWS))
    drawn = np.concatenate([blocks[picks].mean(1) for picks in parts])
    widen = np.sqrt(count / (count - 1)) * stdtrit(count - 1, 0.975) / ndtri(0.975)
    widen *= np.sqrt(_alike(blocks))
    return np.asarray(mean + (drawn - mean) * widen)


def _alike(blocks: FloatArray) -> float:
    """Give by how much neighbours that wander together widen the mean's variance, 1 or more.

    First-order autoregression, n_eff = n (1 - r) / (1 + r), r with the usual first-order
    correction (1 + 3 r) / n of its bias (Kendall 1954, from memory).
    """
    if blocks.size < LEAST_FOR_WANDER or not np.ptp(blocks):
        return 1.0
    off = blocks - blocks.mean()
    alike = float((off[1:] * off[:-1]).sum() / np.square(off).sum())
    alike = min(max(alike + (1 + 3 * alike) / blocks.size, 0.0), 0.8)
    return (1 + alike) / (1 - alike)


def _as_level(
    blocks: FloatArray, draws: FloatArray, offset: float, method: str, notes: tuple[str, ...]
) -> Estimate | None:
    if blocks.size == 0:
        return None
    return _estimate(float(blocks.mean()), draws, offset, method, notes)


def _estimate(
    power: float, draws: FloatArray, offset: float, method: str, notes: tuple[str, ...]
) -> Estimate:
    value = _decibel(power) + offset
    tiny = power * 1e-3
    low, high = (_decibel(max(q, tiny)) + offset for q in np.quantile(draws, (0.025, 0.975)))
    return Estimate(
        value,
        min(low, value),
        max(high, value),
        UNIT,
        method=f"{method}; interval by block bootstrap",
        warnings=notes,
    )


def _decibel(power: float) -> float:
    """Level of a mean square against a full-scale sine, dB."""
    return float(10 * np.log10(max(power * FULL_SCALE_SINE, 1e-20)))
