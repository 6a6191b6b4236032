"""What a thing that goes hides and uncovers: the background behind it, and its two ends.

Once its way is known, each frame tells the background wherever it is not. Seen from the thing
itself, what differs from that background in most frames is the thing.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from outshop.bench.motion.movers import Box, Sight
from outshop.bench.motion.points import Going
from outshop.bench.motion.slant import Slant
from outshop.bench.motion.still import Grey, Still
from outshop.media.video import Frame

Floats = NDArray[np.float64]
_SAMPLES = 44  # frames that the background is made of, evenly along the way
_OUTSIDE = 6  # frames before and after it
_AROUND, _AROUND_SHARE = 40, 0.6  # pixels and share of the points' reach searched beyond it
_PAD, _PAD_SHARE = 16, 0.15  # by which the points' reach is first taken too small
_SLACK = 6
_ROUNDS = 3
_MOSTLY = 0.5  # share of the frames in which a place differs: then it is the thing's
_FEWEST_KNOWN, _KNOWN_SHARE = 3, 0.2  # frames in which a place must be known; share of the most
_GONE_ON_S = 0.4  # how long a thing is taken to go on as it went
_CROP = 28  # working pixels kept around it
_KEPT_BYTES = 110_000_000
_LEAST_SEEN_PX = 12
_BLACK = 0.2  # of the usual exposure: such a frame shows nothing
_NOWHERE = 1e5  # a place far outside the picture


@dataclass(frozen=True, slots=True)
class Course:
    """Where a thing lies in the picture at any time.

    Parameters
    ----------
    t_s, x : ndarray [shape=(n,)]
        Times and way, in working pixels; it keeps the first and last place if it rested there,
        else it goes on for a moment.
    slope : float
        Rows sunk for each pixel of way.
    """

    t_s: Floats
    x: Floats
    slope: float

    def at(self, t_s: float) -> float | None:
        """Way at a moment; None where that is not known."""
        t, x = self.t_s, self.x
        if t[0] <= t_s <= t[-1]:
            return float(np.interp(t_s, t, x))
        first = t_s < t[0]
        few = min(6, len(t))
        part = slice(None, few) if first else slice(len(t) - few, None)
        end = 0 if first else -1
        reach = float(t[part][-1] - t[part][0])
        pace = float(x[part][-1] - x[part][0]) / reach if reach > 0 else 0.0
        off = float(t_s - t[end])
        if abs(x[part][-1] - x[part][0]) > 1.0 and abs(off) > _GONE_ON_S:
            return None
        return float(x[end]) + (pace * off if abs(x[part][-1] - x[part][0]) > 1.0 else 0.0)


@dataclass(frozen=True, slots=True)
class Uncovered:
    """A thing cut out along its way.

    Parameters
    ----------
    sights : list of Sight
        One for each frame; boxes reach beyond the picture where the thing does.
    still : Still
        With the background behind it.
    x : ndarray [shape=(n,)]
        Left end in each sight, in working pixels.
    slant : Slant
        How the camera looks along the track, as far as its points tell.
    reach : tuple of float
        Where its outermost points lie, to the right of ``x``.
    """

    sights: list[Sight]
    still: Still
    x: Floats
    slant: Slant
    reach: tuple[float, float]


def course_of(going: Going) -> Course:
    """Give the course of a thing that was followed by its points."""
    return Course(going.t_s, going.x, going.slope)


class Uncovering:
    """Learns background and ends from a walk, then cuts the thing out in another."""

    def __init__(self, going: Going, still: Still) -> None:
        self._going, self._still, self._slant = going, still, going.slant
        self.course = course_of(going)
        wide = going.reach[1] - going.reach[0]
        pad = max(_PAD, _PAD_SHARE * wide)
        tall = going.rows[1] - going.rows[0]
        self._box = (going.reach[0] - pad, going.reach[1] + pad,
                     going.rows[0] - max(_PAD, 0.3 * tall),
                     going.rows[1] + max(_PAD, 0.3 * tall))  # fmt: skip
        self._around = max(_AROUND, _AROUND_SHARE * wide)

    def learn(self, walk: Iterable[Frame], times_s: list[float]) -> bool:
        """Find background and ends; tell whether that worked."""
        wanted = self._wanted(times_s)
        frames, ways = [], []
        for frame in walk:
            if frame.t_s in wanted:
                frames.append(self._levelled(frame.image))
                ways.append(wanted[frame.t_s])
        if len(frames) < _FEWEST_KNOWN:
            return False
        for _ in range(_ROUNDS):
            background, known = self._background(frames, ways)
            found = self._extent(frames, ways, background, known)
            if found is None:
                return False
            self._box = found
        background, known = self._background(frames, ways)
        usual = _median(np.stack(frames))
        # never seen: strange where something changes, so that it passes for the thing
        strange = ~known & (self._still.reach > max(14.0, 7 * self._still.noise))
        background = np.where(strange, np.where(usual < 128, 255, 0), background).astype(np.uint8)
        self.still = replace(self._still, background=background, strange=strange)
        return True

    def _levelled(self, image: Grey) -> Grey:
        """Copy a frame at the background's exposure."""
        few, ground = (p[::8, ::8] + np.float32(1) for p in (image, self._still.background))
        ratio = float(np.median(few / ground))
        return cv2.convertScaleAbs(image, alpha=1 / ratio) if ratio > _BLACK else image.copy()

    def cut(self, walk: Iterable[Frame]) -> Uncovered:
        """Cut the thing out of every frame in which it can be."""
        height, width = self._still.background.shape
        sights: list[Sight] = []
        places: list[float] = []
        taken, every = 0, 1
        for number, frame in enumerate(walk):
            way = self.course.at(frame.t_s)
            if number % every or way is None:
                continue
            x_px, y_px = self._corners(way)
            box = Box(round(x_px[0]), round(y_px[0]), round(x_px[1]), round(y_px[1]))
            if min(box.right, width) - max(box.left, 0) < _LEAST_SEEN_PX:
                continue
            x0, y0 = max(0, box.left - _CROP), max(0, box.top - _CROP)
            crop = frame.image[y0 : max(0, min(height, box.bottom + _CROP)),
                               x0 : min(width, box.right + _CROP)].copy()  # fmt: skip
            sights.append(Sight(frame.t_s, box, box.area, crop, x0, y0))
            places.append(x_px[0])
            taken += crop.nbytes
            if taken > _KEPT_BYTES:
                sights, places, every = sights[::2], places[::2], 2 * every
                taken //= 2
        low, high = (edge - self._box[0] for edge in self._going.reach)
        return Uncovered(sights, self.still, np.array(places), self._slant, (low, high))

    def _corners(self, way: float) -> tuple[tuple[float, float], tuple[float, float]]:
        """Left and right, top and bottom in the picture of the thing at a place."""
        left, right, top, bottom = self._box
        down = self.course.slope * way
        x = np.array([way + left, way + left, way + right, way + right])
        y = np.array([top + down, bottom + down, top + down, bottom + down])
        px, py = self._slant.to_picture(x, y)
        return (float(px[0]), float(px[2])), (float(py.min()), float(py.max()))

    def _wanted(self, times_s: list[float]) -> dict[float, float]:
        """Choose frames evenly along the way, and some before it came and after it went."""
        ways = {t: self.course.at(t) for t in times_s}
        placed = sorted(((w, t) for t, w in ways.items() if w is not None))
        along = np.array([w for w, _ in placed])
        marks = np.linspace(along[0], along[-1], _SAMPLES)
        picked = {int(np.argmin(np.abs(along - mark))) for mark in marks}
        chosen: dict[float, float] = {placed[i][1]: placed[i][0] for i in picked}
        width = self._still.background.shape[1]
        for end, rest in (
            (0, [t for t in times_s if t < self.course.t_s[0] - _GONE_ON_S]),
            (-1, [t for t in times_s if t > self.course.t_s[-1] + _GONE_ON_S]),
        ):
            x = float(self.course.x[end])
            seen = min(x + self._box[1], width) - max(x + self._box[0], 0)
            if seen < 0.3 * (self._box[1] - self._box[0]):  # it came from outside, or went there
                for t in rest[:: max(1, len(rest) // _OUTSIDE)]:
                    chosen[t] = 10 * _NOWHERE
        return chosen

    def _hidden(self, way: float, slack: float) -> tuple[slice, slice]:
        """Rows and columns that the thing hides when at a place."""
        height, width = self._still.background.shape
        if abs(way) > _NOWHERE:
            return slice(0, 0), slice(0, 0)
        (left, right), (top, bottom) = self._corners(way)
        rows, columns = (
            slice(int(np.clip(low - slack, 0, most)), int(np.clip(np.ceil(high + slack), 0, most)))
            for low, high, most in ((top, bottom, height), (left, right, width))
        )
        return rows, columns

    def _background(self, frames: list[Grey], ways: list[float]) -> tuple[Grey, NDArray[np.bool_]]:
        """Median of the frames that do not hide a place; and where there are enough of them."""
        stack = np.stack(frames)
        free = np.ones(stack.shape, bool)
        for layer, way in zip(free, ways, strict=True):
            layer[self._hidden(way, _SLACK)] = False
        background = _median(stack)
        count = free.sum(axis=0)
        known = count >= _FEWEST_KNOWN
        rows = np.flatnonzero((count < len(frames)).any(axis=1))
        if len(rows):
            band = slice(int(rows[0]), int(rows[-1]) + 1)
            background[band] = _median_where(stack[:, band], free[:, band], background[band])
        return background, known

    def _extent(
        self, frames: list[Grey], ways: list[float], background: Grey, known: NDArray[np.bool_]
    ) -> tuple[float, float, float, float] | None:
        """Box of what differs from the background in most frames, seen from the thing."""
        going = self._going
        tall = going.rows[1] - going.rows[0]
        left, top = going.reach[0] - self._around, going.rows[0] - max(_AROUND, tall)
        size = (
            int(going.rows[1] + max(_AROUND, tall) - top),
            int(going.reach[1] + self._around - left),
        )
        differs, seen = np.zeros(size, np.float32), np.zeros(size, np.float32)
        limit = np.maximum(8.0, 4 * self._still.noise)
        for image, way in zip(frames, ways, strict=True):
            if abs(way) > _NOWHERE:
                continue
            other = cv2.GaussianBlur(cv2.absdiff(image, background), (3, 3), 0) > limit
            x0, y0 = round(way + left), round(top + self.course.slope * way)
            if self._slant.q:
                other, sure = self._straightened(other & known, known, (x0, y0), size)
                seen += sure
                differs += other
                continue
            part = _overlap(image.shape, (y0, x0), size)
            if part is None:
                continue
            there, here = part
            seen[here] += known[there]
            differs[here] += other[there] & known[there]
        share = differs / np.maximum(seen, 1)
        mine = (share > _MOSTLY) & (seen >= max(_FEWEST_KNOWN, _KNOWN_SHARE * seen.max()))
        mine = cv2.morphologyEx(mine.astype(np.uint8), cv2.MORPH_OPEN, np.ones((2, 2), np.uint8))
        # what was never seen before a known background lies within the thing
        inner = (
            slice(int(going.rows[0] - top), int(going.rows[1] - top) + 1),
            slice(int(going.reach[0] - left), int(going.reach[1] - left) + 1),
        )
        blank = np.zeros(size, np.uint8)
        blank[inner] = seen[inner] < _FEWEST_KNOWN
        wide = max(9, int(0.1 * (going.reach[1] - going.reach[0])))
        joined = cv2.morphologyEx(mine | blank, cv2.MORPH_CLOSE, np.ones((7, wide), np.uint8))
        count, labels, facts, _ = cv2.connectedComponentsWithStats(joined)
        touching = np.zeros(count, bool)
        touching[np.unique(labels[inner])] = True
        touching[0] = False
        touching &= facts[:, cv2.CC_STAT_AREA] > 0.02 * facts[1:, cv2.CC_STAT_AREA].max(initial=1)
        inside = np.argwhere(touching[labels] & (mine | blank > 0))
        if len(inside) < 50:
            return None
        (y0, x0), (y1, x1) = inside.min(axis=0), inside.max(axis=0) + 1
        return left + float(x0), left + float(x1), top + float(y0), top + float(y1)

    def _straightened(
        self,
        one: NDArray[np.bool_],
        two: NDArray[np.bool_],
        corner: tuple[int, int],
        size: tuple[int, int],
    ) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
        """Two masks as seen in a window of the straight picture."""
        move = np.array([[1, 0, -corner[0]], [0, 1, -corner[1]], [0, 0, 1.0]])
        matrix = move @ self._slant.matrix
        first, second = (
            cv2.warpPerspective(mask.astype(np.uint8), matrix, size[::-1], flags=cv2.INTER_NEAREST)
            for mask in (one, two)
        )
        return first > 0, second > 0


def _overlap(
    shape: tuple[int, ...], corner: tuple[int, int], size: tuple[int, int]
) -> tuple[tuple[slice, slice], tuple[slice, slice]] | None:
    """Give the common part of a picture and a window, as seen from either."""
    there, here = [], []
    for whole, start, extent in zip(shape, corner, size, strict=True):
        low, high = max(0, start), min(whole, start + extent)
        if high <= low:
            return None
        there.append(slice(low, high))
        here.append(slice(low - start, high - start))
    return (there[0], there[1]), (here[0], here[1])


def _median(stack: NDArray[np.uint8]) -> Grey:
    part = np.partition(stack, len(stack) // 2, axis=0)[len(stack) // 2]
    return np.asarray(part, np.uint8)


def _median_where(stack: NDArray[np.uint8], free: NDArray[np.bool_], other: Grey) -> Grey:
    """Median over the free ones of the first axis; ``other`` where there is none."""
    lifted = np.where(free, stack, 255).astype(np.int16)
    lifted[~free] = 256  # goes last
    lifted.sort(axis=0)
    count = free.sum(axis=0)
    at = np.maximum(count - 1, 0) // 2
    found = np.take_along_axis(lifted, at[None], axis=0)[0]
    return np.where(count > 0, found, other).astype(np.uint8)
