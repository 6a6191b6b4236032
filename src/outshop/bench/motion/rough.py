"""Rough places of a patch before the sheet is laid on it."""

import numpy as np
from numpy.typing import NDArray

from outshop.bench.motion.movers import Box, Sight
from outshop.errors import MediaError

Floats = NDArray[np.float64]
_EDGE = 4  # pixels from the picture's rim within which a patch counts as cut by it
_FRONT_SHARE = 0.4  # of the picture: how much of a model longer than it is followed


def is_whole(box: Box, width: int) -> bool:
    """Tell whether no rim of a picture so wide cuts the patch."""
    return box.left > _EDGE and box.right < width - _EDGE


def rough_places(
    all_sights: list[Sight], width: int
) -> tuple[list[Sight], Floats, Floats, tuple[int, int], bool]:
    """Give rough corners of the patch in each sight, its size, and whether it is whole.

    Parameters
    ----------
    all_sights : list of Sight
        The patch in each frame.
    width : int
        Of the picture; patches that its rim cuts are put right by their usual size.

    Returns
    -------
    sights : list of Sight
        Those that tell a place.
    x, y : ndarray [shape=(n,)]
        Left and top in pixels.
    size : tuple of int
        Width and height in pixels.
    whole : bool
        Whether it was seen whole often enough.

    Raises
    ------
    MediaError
        It fills the whole picture in nearly all frames.
    """
    boxes = np.array([s.box for s in all_sights], dtype=float)
    left, top, right, bottom = boxes.T
    cut_left, cut_right = left <= _EDGE, right >= width - _EDGE
    full = ~cut_left & ~cut_right
    whole = bool(full.sum() >= 5)
    if whole:
        w = float(np.percentile((right - left)[full], 60))
        x = np.where(cut_left, right - w, np.where(cut_right, left, (left + right - w) / 2))
        keep = np.ones(len(x), bool)
    else:
        w = _FRONT_SHARE * width
        x, keep = _front(left, right, cut_left, cut_right, w)
        full = keep
    if keep.sum() < 5:
        raise MediaError(
            "the model fills the whole picture all the time: step back, so that its front or rear "
            "is seen passing"
        )
    h = float(np.percentile((bottom - top)[full], 60))
    middle = (top + bottom) / 2
    line = np.array([0.0, np.median(middle[full])])
    if np.ptp(x[full]) > 50:
        line = np.polyfit(x[full], middle[full], 1)
    y = np.polyval(line, x) - h / 2
    sights = [s for s, k in zip(all_sights, keep, strict=True) if k]
    return sights, _smooth(x[keep]), y[keep], (round(w), round(h)), whole


def _front(
    left: Floats, right: Floats, cut_left: NDArray[np.bool_], cut_right: NDArray[np.bool_], w: float
) -> tuple[Floats, NDArray[np.bool_]]:
    """Follow the end that stays in the picture longest, of a model longer than it."""
    by_right, by_left = ~cut_right & (right > w), ~cut_left & (left < left.max() + 1)
    by_left &= right - left > w
    if by_right.sum() >= by_left.sum():
        return right - w, by_right
    return left, by_left


def _smooth(x: Floats) -> Floats:
    """Take a running median of five, so that one badly cut patch does no harm."""
    if len(x) < 5:
        return x
    padded = np.pad(x, 2, mode="edge")
    padded[:2] = 2 * x[0] - x[2:0:-1]
    padded[-2:] = 2 * x[-1] - x[-2:-4:-1]
    return np.median(np.lib.stride_tricks.sliding_window_view(padded, 5), axis=1)
