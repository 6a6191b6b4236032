"""Equivalent levels of run and room, the room taken off, with bootstrap intervals."""

from dataclasses import dataclass

import numpy as np

from outshop.bench.sound.blocks import GUESS_DB, Blocks, cut_blocks, draw_means
from outshop.bench.sound.digest import Digest
from outshop.bench.sound.runs import Run
from outshop.bench.sound.weighting import FloatArray
from outshop.estimate import Estimate, NotMeasurable, Reading

LEAST_GAP_DB = 3.0  # ISO 3744-type practice (from memory): below, no correction is allowed
UNIT = "dB(A)"
FULL_SCALE_SINE = 2.0  # mean square of a sine of amplitude 1 is 1/2


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
        Lap time: whole laps only are then averaged.

    Returns
    -------
    Levels
        Readings in dB(A).
    """
    offset = full_scale_db or 0.0
    notes = () if full_scale_db is not None else ("levels are relative to full scale",)
    run_blocks = cut_blocks(digest, runs, "running", lap_s)
    still_blocks = cut_blocks(digest, runs, "still")
    if any(b.power.size and not b.freedom for b in (run_blocks, still_blocks)):
        notes = (*notes, f"too short for an interval: the width is a guess of {GUESS_DB:g} dB")
    run_draws = draw_means(run_blocks, seed=1)
    still_draws = draw_means(still_blocks, seed=2)
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
    net = run_blocks.mean - still_blocks.mean
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
        blocks = cut_blocks(digest, (run,), "still").power
        if blocks.size < 2:
            return NotMeasurable("too little still time before or after the run", "dB")
        means.append(_decibel(float(np.median(blocks))))
        errors.append(4.34 * blocks.std(ddof=1) / blocks.mean() / np.sqrt(blocks.size))
    half = 1.96 * max(float(np.hypot(*errors)), 0.2)
    return Estimate.plus_minus(means[1] - means[0], half, "dB", method="LAeq after less before")


def _as_level(
    blocks: Blocks, draws: FloatArray, offset: float, method: str, notes: tuple[str, ...]
) -> Estimate | None:
    if blocks.power.size == 0:
        return None
    return _estimate(blocks.mean, draws, offset, method, notes)


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
