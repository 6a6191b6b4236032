"""A model that moves less than its own length: the background behind it is never seen.

The way is taken from points of the model followed from the first frame (pyramidal
Lucas-Kanade), the two ends from where the picture changes at all; a background is made up
from what is uncovered in some frame, so that the ends can be found as always.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from outshop.bench.motion.movers import Box, Sight
from outshop.bench.motion.still import Grey, Still
from outshop.media.video import Frame

Floats = NDArray[np.float64]
_LEAST_POINTS = 6
_ALIKE_PX = 1.5
_AGREE_SHARE = 0.25  # of the moving points must move alike; those on its rim lag
_ONE_WAY_SHARE = 0.7  # must move the same way
_UNLIKE = 20.0  # mean difference of the patch, in grey levels, beyond which a point is lost
_ELSEWHERE_SHARE = 0.4
_CRUMB_PX, _CRUMB_SHARE = 12, 0.005  # pieces of change below these, in pixels and of the largest
_LEAST_WAY_PX = 3.0
_MARGIN = 14
_FRAMES = 60  # from which the background is made up
_KEPT_BYTES = 90_000_000
_FLOW = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 20, 0.01)


@dataclass(frozen=True, slots=True)
class Creep:
    """A model that creeps.

    Parameters
    ----------
    sights : list of Sight
        One for each frame.
    x : ndarray [shape=(n,)]
        Left end of the model in each, in working pixels.
    top : float
        Upper edge of what changes.
    size : tuple of int
        Width and height of the model's patch.
    still : Still
        With the made-up background.
    """

    sights: list[Sight]
    x: Floats
    top: float
    size: tuple[int, int]
    still: Still


def find_creep(walk: Iterable[Frame], still: Still) -> Creep | None:
    """Follow a model that creeps, or None if none does."""
    area = _changing(still)
    if area is None:
        return None
    frames, times, window = _crops(walk, area, still.background.shape)
    if len(frames) < 8:
        return None
    way = _way(frames)
    if way is None or not _LEAST_WAY_PX < np.ptp(way) < area.right - area.left:
        return None
    left, right = area.left - float(way.min()), area.right - float(way.max())
    if right - left < 12:
        return None
    background, strange = _made_up(frames, way, window, (left, right), still)
    sights = []
    for t, crop, moved in zip(times, frames, way, strict=True):
        box = Box(round(left + moved), area.top, round(right + moved), area.bottom)
        sights.append(Sight(t, box, box.area, crop, window.left, window.top))
    size = (round(right - left), area.bottom - area.top)
    return Creep(
        sights, left + way, area.top, size, replace(still, background=background, strange=strange)
    )


def _changing(still: Still) -> Box | None:
    """Box of the largest area that changes over time."""
    changed = np.asarray(still.reach > max(14, 7 * still.noise)).astype(np.uint8)
    changed = cv2.morphologyEx(changed, cv2.MORPH_OPEN, np.ones((2, 2), np.uint8))
    changed = _without_crumbs(changed)
    wide = max(9, changed.shape[1] // 12)
    joined = cv2.morphologyEx(changed, cv2.MORPH_CLOSE, np.ones((9, wide), np.uint8))
    count, labels, facts, _ = cv2.connectedComponentsWithStats(joined)
    if count < 2:
        return None
    best = 1 + int(np.argmax(facts[1:, cv2.CC_STAT_AREA]))
    inside = np.argwhere((labels == best) & (changed > 0))
    elsewhere = int((changed > 0).sum()) - len(inside)
    if len(inside) < 30 or elsewhere > _ELSEWHERE_SHARE * len(inside):
        return None  # other things move too: which one is meant is not for us to guess
    (top, left), (bottom, right) = inside.min(axis=0), inside.max(axis=0) + 1
    return Box(int(left), int(top), int(right), int(bottom))


def _without_crumbs(changed: Grey) -> Grey:
    """Drop pieces far smaller than the largest: coding stirs fine texture anywhere."""
    count, labels, facts, _ = cv2.connectedComponentsWithStats(changed)
    if count < 2:
        return changed
    areas = facts[:, cv2.CC_STAT_AREA]
    kept = areas >= max(_CRUMB_PX, _CRUMB_SHARE * int(areas[1:].max()))
    kept[0] = False
    clean: Grey = kept[labels].astype(np.uint8)
    return clean


def _crops(
    walk: Iterable[Frame], area: Box, shape: tuple[int, ...]
) -> tuple[list[Grey], list[float], Box]:
    height, width = shape[:2]
    window = Box(
        max(0, area.left - _MARGIN), max(0, area.top - _MARGIN),
        min(width, area.right + _MARGIN), min(height, area.bottom + _MARGIN),
    )  # fmt: skip
    frames: list[Grey] = []
    times: list[float] = []
    every = 1
    for number, frame in enumerate(walk):
        if number % every:
            continue
        frames.append(frame.image[window.top : window.bottom, window.left : window.right].copy())
        times.append(frame.t_s)
        if len(frames) * frames[0].nbytes > _KEPT_BYTES:
            frames, times, every = frames[::2], times[::2], 2 * every
    return frames, times, window


def _way(frames: list[Grey]) -> Floats | None:
    """How far the model's points have moved since the first frame, in pixels to the right."""
    first = frames[0]
    points = cv2.goodFeaturesToTrack(first, 200, 0.02, 4)
    if points is None:
        return None
    moved = np.zeros((len(frames), len(points)))
    alive = np.ones(len(points), bool)
    at = points.copy()
    for number, frame in enumerate(frames[1:], start=1):
        at, good, unlike = cv2.calcOpticalFlowPyrLK(
            first, frame, points, at.copy(), winSize=(15, 15), maxLevel=2, criteria=_FLOW,
            flags=cv2.OPTFLOW_USE_INITIAL_FLOW,
        )  # fmt: skip
        alive &= (good.ravel() == 1) & (unlike.ravel() < _UNLIKE)
        moved[number] = (at - points)[:, 0, 0]
    moved = moved[:, alive]
    if moved.shape[1] < _LEAST_POINTS:
        return None
    # the model's points are those that go together the farthest
    common, far = max(((_shared(row), row) for row in moved), key=lambda found: abs(found[0]))
    going = np.abs(far) > max(_LEAST_WAY_PX, 0.3 * abs(common))
    mine = np.abs(far - common) < _ALIKE_PX
    if mine.sum() < max(_LEAST_POINTS, _AGREE_SHARE * going.sum()):
        return None
    if not going.any() or (np.sign(far[going]) == np.sign(common)).mean() < _ONE_WAY_SHARE:
        return None
    way: Floats = np.median(moved[:, mine], axis=1)
    return way


def _shared(row: Floats) -> float:
    """Way that most of the moving points share; 0 when too few do."""
    ways = row[np.abs(row) > _LEAST_WAY_PX]
    if len(ways) < _LEAST_POINTS:
        return 0.0
    shared = (np.abs(ways[:, None] - ways[None]) < _ALIKE_PX).sum(axis=1)
    best = int(np.argmax(shared))
    return float(ways[best]) if shared[best] >= _LEAST_POINTS else 0.0


def _made_up(
    frames: list[Grey], way: Floats, window: Box, ends: tuple[float, float], still: Still
) -> tuple[Grey, NDArray[np.bool_]]:
    """Background from frames in which the model is elsewhere; strange where it never is."""
    chosen = np.unique(np.linspace(0, len(frames) - 1, min(_FRAMES, len(frames))).round())
    picked = chosen.astype(int)
    stack = np.stack([frames[i] for i in picked]).astype(np.float32)
    columns = np.arange(window.left, window.right) + 0.5
    slack = 3.0
    covered = (columns > ends[0] + way[picked, None] - slack) & (
        columns < ends[1] + way[picked, None] + slack
    )
    usual = np.median(stack, axis=0)
    free = np.where(covered[:, None, :], np.nan, stack)
    seen: NDArray[np.bool_] = np.logical_not(covered.all(axis=0))
    ground = usual.copy()
    ground[:, seen] = np.nanmedian(free[:, :, seen], axis=0)
    reach = still.reach[window.top : window.bottom, window.left : window.right]
    changing: NDArray[np.bool_] = np.greater(reach, max(14.0, 7 * still.noise))
    strange = changing & ~seen[None, :]
    ground[strange] = np.where(usual[strange] < 128, 255, 0)
    background = still.background.copy()
    background[window.top : window.bottom, window.left : window.right] = np.clip(ground, 0, 255)
    everywhere = np.zeros(background.shape, bool)
    everywhere[window.top : window.bottom, window.left : window.right] = strange
    return background, everywhere
