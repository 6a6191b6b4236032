"""What moves: patches that differ from the background, linked from frame to frame."""

from dataclasses import dataclass, field
from typing import NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from outshop.bench.motion.still import HALF, Grey, Still, half

_SMALLEST_SHARE = 0.0006  # of the picture's area
_GAP_FRAMES = 25  # how long a mover may be hidden
_MARGIN = 14  # working pixels kept around a patch
_KEPT_BYTES = 110_000_000
_MOST_PATCHES = 4


class Box(NamedTuple):
    """A patch in working pixels; right and bottom are exclusive."""

    left: int
    top: int
    right: int
    bottom: int

    @property
    def middle(self) -> float:
        """Middle across."""
        return (self.left + self.right) / 2

    @property
    def area(self) -> int:
        """Width times height."""
        return (self.right - self.left) * (self.bottom - self.top)


class Sight(NamedTuple):
    """One mover in one frame: when, where, how many pixels, and the picture around it."""

    t_s: float
    box: Box
    area: int
    crop: Grey
    left: int
    top: int


@dataclass(slots=True)
class Mover:
    """One thing followed through the frames."""

    sights: list[Sight] = field(default_factory=list)
    last_frame: int = 0

    def middles(self) -> NDArray[np.float64]:
        """Middle of each patch (n, 2), in working pixels."""
        boxes = np.array([s.box for s in self.sights], dtype=np.float64)
        return (boxes[:, :2] + boxes[:, 2:]) / 2

    def times(self) -> NDArray[np.float64]:
        """Time of each sight (n,), in seconds."""
        return np.array([s.t_s for s in self.sights])

    def travel(self) -> NDArray[np.float64]:
        """How far the ends get, across and down (2,), robust against single frames."""
        boxes = np.array([s.box for s in self.sights], dtype=np.float64)
        low, high = np.percentile(boxes, [3, 97], axis=0)
        spans = high - low
        return np.array([max(spans[0], spans[2]), max(spans[1], spans[3])])

    def area(self) -> float:
        """Usual number of pixels."""
        return float(np.percentile([s.area for s in self.sights], 75))


class Watcher:
    """Finds and links the movers, frame by frame."""

    def __init__(self, still: Still) -> None:
        self._background = half(still.background)
        self._sparse = self._background[::8, ::8] + np.float32(1)
        spread = cv2.resize(still.spread, self._background.shape[::-1])
        # averaging four pixels halves white noise; 5 deviations, at least 7 grey levels
        self._threshold = np.maximum(7, 5 * spread / HALF + 2).astype(np.uint8)
        self._open: list[Mover] = []
        self._done: list[Mover] = []
        self._number = 0
        self.busy = 0  # frames looked at in which anything moved
        self._bytes = 0
        self._every = 1

    def add(self, t_s: float, frame: Grey) -> None:
        """Look at one steady frame."""
        self._number += 1
        if self._number % self._every:
            return
        sights = self._sights(t_s, frame)
        self.busy += bool(sights)
        taken: set[int] = set()
        for mover in sorted(self._open, key=lambda m: -len(m.sights)):
            choice = _nearest(mover, sights, taken)
            if choice is not None:
                taken.add(choice)
                mover.sights.append(sights[choice])
                mover.last_frame = self._number
        for index, sight in enumerate(sights):
            if index not in taken:
                self._open.append(Mover([sight], self._number))
        self._close_old()
        self._bytes += sum(s.crop.nbytes for s in sights)
        if self._bytes > _KEPT_BYTES:
            self._thin()

    def movers(self) -> list[Mover]:
        """All that was followed over at least 5 frames."""
        return [m for m in self._done + self._open if len(m.sights) >= 5]

    def _sights(self, t_s: float, frame: Grey) -> list[Sight]:
        small = half(frame)
        mask = (cv2.absdiff(small, self._levelled(small)) > self._threshold).astype(np.uint8)
        mask = cv2.morphologyEx(mask, cv2.MORPH_OPEN, np.ones((2, 2), np.uint8))
        wide = max(5, mask.shape[1] // 30)
        x0, y0, w0, h0 = cv2.boundingRect(mask)
        if not w0:
            return []
        part = mask[y0 : y0 + h0, x0 : x0 + w0]
        joined = cv2.morphologyEx(part, cv2.MORPH_CLOSE, np.ones((5, wide), np.uint8))
        count, _, facts, _ = cv2.connectedComponentsWithStats(joined)
        facts[:, :2] += (x0, y0)
        least = _SMALLEST_SHARE * mask.size
        order = [i for i in range(1, count) if facts[i, 4] >= least]
        order.sort(key=lambda i: -facts[i, 4])
        found = []
        for i in order[:_MOST_PATCHES]:
            x, y, w, h, area = (int(v) for v in facts[i])
            box = Box(HALF * x, HALF * y, HALF * (x + w), HALF * (y + h))
            left, top = max(0, box.left - _MARGIN), max(0, box.top - _MARGIN)
            crop = frame[top : box.bottom + _MARGIN, left : box.right + _MARGIN].copy()
            found.append(Sight(t_s, box, HALF * HALF * area, crop, left, top))
        return found

    def _levelled(self, small: Grey) -> Grey:
        """Give the background at the frame's own exposure."""
        ratio = float(np.median((small[::8, ::8] + np.float32(1)) / self._sparse))
        if abs(ratio - 1) < 0.01:
            return self._background
        levelled: Grey = cv2.convertScaleAbs(self._background, alpha=ratio)
        return levelled

    def _close_old(self) -> None:
        still_open = []
        for mover in self._open:
            hidden = self._number - mover.last_frame
            if hidden > _GAP_FRAMES * self._every:
                self._done.append(mover)
            else:
                still_open.append(mover)
        self._open = still_open
        if len(self._done) > 60:  # leaves and noise: the longest are what matters
            self._done.sort(key=lambda m: -len(m.sights))
            del self._done[30:]

    def _thin(self) -> None:
        """Keep every second sight: the clip is long."""
        self._every *= 2
        self.busy //= 2
        for mover in self._done + self._open:
            mover.sights = mover.sights[::2]
        self._bytes = sum(s.crop.nbytes for m in self._done + self._open for s in m.sights)


def _nearest(mover: Mover, sights: list[Sight], taken: set[int]) -> int | None:
    """Pick the patch that continues the mover, or None."""
    last = mover.sights[-1].box
    step = (0.0, 0.0)
    if len(mover.sights) > 3:
        old = mover.sights[-4].box
        step = ((last.left + last.right - old.left - old.right) / 6,
                (last.top + last.bottom - old.top - old.bottom) / 6)  # fmt: skip
    best, best_score = None, 0.0
    for index, sight in enumerate(sights):
        if index in taken:
            continue
        score = _likeness(last, sight.box, step)
        if score > best_score:
            best, best_score = index, score
    return best


def _likeness(old: Box, new: Box, step: tuple[float, float]) -> float:
    """Overlap of the two boxes over the smaller one, the old one moved on by ``step``."""
    slack = 6
    across = min(old.right + step[0], new.right) - max(old.left + step[0], new.left) + slack
    down = min(old.bottom + step[1], new.bottom) - max(old.top + step[1], new.top) + slack
    if across <= 0 or down <= 0:
        return 0.0
    return across * down / min(old.area, new.area)
