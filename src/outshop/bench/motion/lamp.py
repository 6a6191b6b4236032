"""A lamp that lights in the picture: when, and where if nobody said."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from outshop.bench.motion.footage import Footage
from outshop.errors import InputError

Floats = NDArray[np.float64]
_CELL = 8  # working pixels of a cell of the search (our choice)
_LEAST_GREY = 12.0  # by how much a lamp brightens its cell, in grey levels of 255 (our choice)
_SURE = 7.0  # and in deviations of the cell's unrest
_LARGEST_SHARE = 0.03  # of the picture: a larger change is the room's light, or a hand
_NEAR_CELLS = 3  # cells that light together within this reach are one lamp


@dataclass(frozen=True, slots=True)
class Region:
    """A part of the picture, in pixels of the clip as a player shows it."""

    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Lit:
    """A lamp that was lit.

    Parameters
    ----------
    t_s : float
        When, on the clip's clock.
    error_s : float
        Standard error of that.
    x, y : float
        Where, in pixels of the clip.
    """

    t_s: float
    error_s: float
    x: float
    y: float


def check_region(region: Region, width: int, height: int) -> Region:
    """Check a region at the door; the picture's size in pixels as a player shows it.

    Raises
    ------
    InputError
        It is empty, no number, or outside the picture.
    """
    numbers = (region.x, region.y, region.width, region.height)
    if not np.isfinite(numbers).all() or region.width < 1 or region.height < 1:
        raise InputError("the lamp's region needs four plain numbers: x,y,WIDTH,HEIGHT in pixels")
    inside = region.x >= 0 and region.x + region.width <= width
    if not (inside and region.y >= 0 and region.y + region.height <= height):
        raise InputError(
            f"the lamp's region at {region.x:g},{region.y:g} does not lie inside the picture of "
            f"{width} by {height} pixels"
        )
    return region


def lamp_in(footage: Footage, region: Region, from_s: float, to_s: float) -> list[Lit]:
    """Give when the lamp in a region lights between two moments; empty when it does not."""
    k = footage.scale
    left, top = int(region.x * k), int(region.y * k)
    right = max(left + 1, round((region.x + region.width) * k))
    bottom = max(top + 1, round((region.y + region.height) * k))
    times, levels = [], []
    for frame in footage.frames():
        if frame.t_s > to_s:
            break
        if frame.t_s >= from_s:
            times.append(frame.t_s)
            levels.append(float(np.mean(frame.image[top:bottom, left:right])))
    if len(times) < 4:
        return []
    level = np.array(levels)[:, None]
    step, sure, split = _steps(level)
    # a bright lamp fills only part of a region that is drawn with a generous hand
    if step[0] < _LEAST_GREY / 4 or sure[0] < _SURE:
        return []
    middle = (region.x + region.width / 2, region.y + region.height / 2)
    return [Lit(*_moment(np.array(times), level[:, 0], int(split[0])), *middle)]


def find_lamps(footage: Footage, from_s: float, to_s: float) -> list[Lit]:
    """Look for small spots that light between two moments and stay lit, in order of time."""
    times, cells = _cells(footage, from_s, to_s)
    if len(times) < 4:
        return []
    rows, columns = cells.shape[1:]
    every = cells.reshape(len(times), -1)
    changed = np.flatnonzero(np.ptp(every, axis=0) >= _LEAST_GREY)  # the rest is no lamp
    if len(changed) == 0:
        return []
    flat = every[:, changed]
    step, sure, split = _steps(flat)
    bright = (step >= _LEAST_GREY) & (sure >= _SURE)
    lit = np.zeros(rows * columns, bool)
    lit[changed[bright]] = True
    lit = lit.reshape(rows, columns)
    if not lit.any() or lit.mean() > _LARGEST_SHARE:
        return []
    wide = 2 * _NEAR_CELLS - 1
    grown = cv2.dilate(lit.astype(np.uint8), np.ones((wide, wide), np.uint8))
    count, labels = cv2.connectedComponents(grown)
    found = []
    for label in range(1, count):
        mine = np.flatnonzero(bright & (labels.ravel()[changed] == label))
        best = mine[int(np.argmax(step[mine]))]
        y, x = divmod(int(changed[best]), columns)
        at = ((x + 0.5) * _CELL / footage.scale, (y + 0.5) * _CELL / footage.scale)
        found.append(Lit(*_moment(times, flat[:, best], int(split[best])), *at))
    return sorted(found, key=lambda lamp: lamp.t_s)


def _cells(footage: Footage, from_s: float, to_s: float) -> tuple[Floats, NDArray[np.float32]]:
    """Mean brightness of each cell over time (n, rows, columns), the room's own light taken off."""
    times, cells = [], []
    for frame in footage.frames():
        if frame.t_s > to_s:
            break
        if frame.t_s >= from_s:
            size = (frame.image.shape[1] // _CELL, frame.image.shape[0] // _CELL)
            small = cv2.resize(frame.image, size, interpolation=cv2.INTER_AREA).astype(np.float32)
            times.append(frame.t_s)
            cells.append(small - np.median(small))
    return np.array(times), np.stack(cells) if cells else np.zeros((0, 1, 1), np.float32)


def _steps(levels: NDArray[np.floating]) -> tuple[Floats, Floats, NDArray[np.intp]]:
    """Fit the best single step up to each column of (n, m).

    Returns
    -------
    step : ndarray [shape=(m,)]
        Height, in grey levels.
    sure : ndarray [shape=(m,)]
        Height over the standard deviation on both sides of it.
    split : ndarray [shape=(m,)]
        First frame after it.
    """
    x = np.asarray(levels, dtype=np.float64)
    n = len(x)
    total = np.cumsum(x, axis=0)
    before = np.arange(1, n)[:, None]
    low = total[:-1] / before
    high = (total[-1] - total[:-1]) / (n - before)
    gain = before * (n - before) * np.maximum(high - low, 0) ** 2
    gain[0] = gain[-1] = 0  # one frame alone is a flash
    split = np.argmax(gain, axis=0) + 1
    column = np.arange(x.shape[1])
    step = (high - low)[split - 1, column]
    rest = x - np.where(
        np.arange(n)[:, None] < split, low[split - 1, column], high[split - 1, column]
    )
    # the few frames in which a filament warms up are no unrest
    unrest = 1.4826 * np.median(np.abs(rest), axis=0)
    return step, step / np.maximum(unrest, 0.3), split


def _moment(times: Floats, level: NDArray[np.floating], split: int) -> tuple[float, float]:
    """When the step began, and its standard error: between the last dark frame and the next."""
    dark, bright = float(np.median(level[:split])), float(np.median(level[split:]))
    first = split
    while first > 1 and level[first - 1] > dark + 0.2 * (bright - dark):
        first -= 1
    frame = float(times[first] - times[first - 1])
    # any moment of the frame's time is as likely as another (uniform law: width / sqrt 12)
    return float(times[first - 1] + frame / 2), frame / 12**0.5
