"""Whether a way that was followed is to be believed."""

import numpy as np
from numpy.typing import NDArray

from outshop.bench.motion.placing import Sheet
from outshop.errors import MediaError

Floats = NDArray[np.float64]
# a place this far off the line between its neighbours is a leap: a model that stops dead makes one
_LEAP_PX, _FEW_LEAPS, _LEAP_SHARE, _FEWEST_STEPS = 5.0, 2, 0.04, 8
_LEAST_EVEN = 0.9  # share of the places that must lie on the even way; ours
_PLAIN = 0.5  # of the usual contrast: what is left in a shadow or drifting light
_RUNS_OVER = 0.15  # share of the sheet's covered rows that may reach its rim


def check_leaps(t_s: Floats, x_px: Floats, name: str) -> None:
    """Refuse places that leap: then now one thing was followed, now another.

    Parameters
    ----------
    t_s, x_px : ndarray [shape=(n,)]
        Time in seconds and place in working pixels.
    name : str
        The clip's.

    Raises
    ------
    MediaError
        More than 4 % of the places, and more than two, leap, and the rest leaps as well.
    """
    if leaps_often(t_s, x_px):
        raise MediaError(
            f"the model in {name} was lost and found again several times: show it alone before a "
            "still wall, evenly lit"
        )


def leaps_often(t_s: Floats, x_px: Floats) -> bool:
    """Tell whether places leap too often to be one thing's."""
    if len(t_s) < _FEWEST_STEPS:
        return False
    leaps = _leaps(t_s, x_px)
    if _few(leaps):
        return False
    # a few wild places on an even way do no harm: without them the way must be even
    kept = ~leaps
    return bool(kept.mean() < _LEAST_EVEN or not _few(_leaps(t_s[kept], x_px[kept])))


def _few(leaps: NDArray[np.bool_]) -> bool:
    return bool(np.count_nonzero(leaps) <= max(_FEW_LEAPS, _LEAP_SHARE * len(leaps)))


def _leaps(t_s: Floats, x_px: Floats) -> NDArray[np.bool_]:
    """Places far off the line between their neighbours; the two ends have none."""
    share = (t_s[1:-1] - t_s[:-2]) / (t_s[2:] - t_s[:-2])
    off = x_px[1:-1] - (1 - share) * x_px[:-2] - share * x_px[2:]
    return np.concatenate([[False], np.abs(off) > _LEAP_PX, [False]])


def runs_over(sheet: Sheet) -> bool:
    """Tell whether the model goes on beyond the sheet, so that its ends are not in it."""
    covered = sheet.cover > 0.5
    if not covered.any():
        return False
    covered &= sheet.contrast > _PLAIN * np.median(sheet.contrast[covered])
    rows = max(1, int(covered.any(axis=1).sum()))
    at_rim = max(int(covered[:, :2].any(axis=1).sum()), int(covered[:, -2:].any(axis=1).sum()))
    return at_rim > _RUNS_OVER * rows
