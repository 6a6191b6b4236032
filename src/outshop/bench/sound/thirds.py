"""Third-octave levels of run and room."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from outshop.bench.sound.digest import Digest
from outshop.bench.sound.runs import Run
from outshop.bench.sound.weighting import FloatArray

SINE = 3.0103  # dB: a full-scale sine has mean square 1/2


def third_octaves(
    digest: Digest, runs: tuple[Run, ...], full_scale_db: float | None
) -> tuple[Mapping[str, Any], ...]:
    """Give unweighted third-octave levels, running and still, in dB.

    Blocks of about a second count for a state if they lie wholly in it.

    Parameters
    ----------
    digest : Digest
        The recording.
    runs : tuple of Run
        Its stretches.
    full_scale_db : float or None
        Level of a full-scale sine; None counts as 0 dB.

    Returns
    -------
    tuple of mapping
        ``midband_hz``, ``running_db``, its standard error ``running_error_db``, ``still_db``
        (None when there is no such block).
    """
    offset = SINE + (full_scale_db or 0.0)
    begins = np.arange(len(digest.thirds)) * digest.block_s
    levels = {}
    for state in ("running", "still"):
        inside = np.zeros(len(begins), bool)
        for run in runs:
            if run.state == state:
                # the last block of a recording is cut short by its end
                end = min(run.end_s, digest.duration_s) + 0.25 * digest.block_s
                inside |= (begins >= run.start_s) & (begins + digest.block_s <= end)
        levels[state] = _level(digest.thirds[inside], offset) if inside.any() else None
    return tuple(
        {
            "midband_hz": float(midband),
            "running_db": _at(levels["running"], 0, i),
            "running_error_db": _at(levels["running"], 1, i),
            "still_db": _at(levels["still"], 0, i),
        }
        for i, midband in enumerate(digest.midbands_hz)
    )


def _level(blocks: FloatArray, offset: float) -> FloatArray:
    """Level in dB and its standard error from block to block, shape (2, midbands)."""
    mean = blocks.mean(0) + 1e-20
    count = len(blocks)
    spread = blocks.std(0, ddof=1) if count > 1 else mean / 2
    error = 10 / np.log(10) * spread / mean / np.sqrt(count)
    return np.stack([10 * np.log10(mean) + offset, error])


def _at(levels: FloatArray | None, row: int, column: int) -> float | None:
    return None if levels is None else float(levels[row, column])
