"""The still world: camera shake taken out, background and noise learnt."""

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from outshop.errors import MediaError

Grey = NDArray[np.uint8]
Image = NDArray[np.float32]

HALF = 2  # the search for moving things works on pictures half as wide and high
_POINTS = 120
_FEWEST_POINTS = 12
_SHAKE_SHARE = 0.06  # of the width: more is a moving camera, not a shaken one
_LOST_SHARE = 0.3
_OFTEN_LOST = 0.25
_AGREE_PX = 1.5
_WIDE_SHARE = 0.5  # of the width that points of the still world must span
_STILL_SHARE = 0.2  # least share of points that agree on how the camera moved
_WORTH_PX = 0.08  # half-size pixels of shake below which the picture is left alone
_LOOKED_AT = 40  # pixels of a tile that tell of the camera's shift
_FEWEST_TILES = 6
_FLAT = 2  # grey levels; a tile with less contrast tells nothing
_FEWEST_ALIKE, _ALIKE_SHARE = 3, 0.5  # tiles; change over contrast below which one is the same
_LARGE_PX = 3.0  # half-size pixels of shake from which the whole picture is asked as well
_STANDS_PX, _MOST = 0.05, 0.6  # half-size pixels; share of the tiles that must agree
_SAMPLES = 31
_DIFFERENT = 0.002  # share of such places from which on a frame counts as another one
_CHANGED = 10  # grey levels on a picture eight times smaller that count as change
_FLOW: Any = {
    "winSize": (15, 15),
    "maxLevel": 3,
    "criteria": (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 12, 0.02),
}


class Steadier:
    """Brings each frame to where the first one was taken from.

    Follows corner points of the first frame (pyramidal Lucas-Kanade; Bouguet 2001) and
    fits shift, turn and zoom to the greater part of them, so the model's own points do
    not matter. A camera that stands is told by a quicker look.
    """

    def __init__(self, first: Grey, name: str) -> None:
        self._name = name
        self._first = half(first)
        self._points = _corners(self._first)
        if not _wide(self._points[:, 0], self._first.shape[1]):
            self._points = self._points[:0]  # the model's own: they tell nothing of the camera
        self._look = Look(self._first)
        self.largest_px = 0.0
        self._moves: dict[float, NDArray[np.float64] | None] = {}
        self._away = self._lost_frames = self._frames = 0

    def steady(self, frame: Grey, t_s: float) -> Grey:
        """Give the frame as the still camera would have seen it; ``t_s`` tells it again.

        Raises
        ------
        MediaError
            The camera moves for good.
        """
        if len(self._points) < _FEWEST_POINTS:
            return frame
        if t_s not in self._moves:
            self._moves[t_s] = self._move(half(frame))
        matrix = self._moves[t_s]
        if matrix is None:
            return frame
        size = (frame.shape[1], frame.shape[0])
        flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        steady: Grey = cv2.warpAffine(
            frame, matrix, size, flags=flags, borderMode=cv2.BORDER_REPLICATE
        )
        return steady

    def _move(self, small: Grey) -> NDArray[np.float64] | None:
        """Find how the camera moved since the first frame; None when not worth undoing."""
        self._frames += 1
        if self._look.stands(small):
            self._away = 0
            return None
        matrix = self._measured(small)
        if matrix is None:
            if self._look.alike(small):  # too plain to follow, but nothing says that it moved
                self._away = 0
            else:
                self._lost()
            return None
        middle = np.array([small.shape[1] / 2, small.shape[0] / 2, 1.0])
        shift = float(np.hypot(*(matrix @ middle - middle[:2])))
        self._away = 0
        large = shift > _LARGE_PX
        if large and (self._look.alike(small) or not self._look.explained(small, matrix)):
            return None  # the model's points went so far, not the camera
        self.largest_px = max(self.largest_px, HALF * shift)
        corner = float(np.hypot(*(matrix @ np.array([0.0, 0.0, 1.0]))))
        if max(shift, corner) < _WORTH_PX:
            return None
        # pixel centres of the half-size picture lie half a pixel off
        between = (HALF - 1) / 2 * (1 - matrix[:, 0] - matrix[:, 1])
        matrix[:, 2] = HALF * matrix[:, 2] + between
        return matrix

    def _measured(self, small: Grey) -> NDArray[np.float64] | None:
        """Follow the points; None when the still world is not found."""
        found, good, _ = cv2.calcOpticalFlowPyrLK(
            self._first, small, self._points, self._points.copy(), **_FLOW
        )
        good = good.ravel() == 1
        if good.sum() < 6 or good.mean() < _LOST_SHARE:
            return None
        matrix = _fit(self._points[good, 0], found[good, 0], small.shape[1])
        if matrix is None:
            return None
        middle = np.array([small.shape[1] / 2, small.shape[0] / 2, 1.0])
        shift = float(np.hypot(*(matrix @ middle - middle[:2])))
        return None if shift > _SHAKE_SHARE * small.shape[1] else matrix

    def _lost(self) -> None:
        """Count a frame in which the still world was not found."""
        self._away += 1
        self._lost_frames += 1
        often = self._frames >= 10 and self._lost_frames > _OFTEN_LOST * self._frames
        if self._away >= 5 or often:
            raise MediaError(
                f"the camera moves in {self._name}: stand the phone on something firm beside the "
                "track and let the model pass"
            )


class Look:
    """Tells from a few hundred pixels whether the camera stands where it stood.

    At edges of the first picture a shift shows as a change of brightness in proportion to
    the slope (Lucas and Kanade 1981, one step); each tile gives its own shift.
    """

    def __init__(self, first: Grey) -> None:
        smooth = cv2.GaussianBlur(first.astype(np.float32), (0, 0), 0.8)
        across = cv2.Sobel(smooth, cv2.CV_32F, 1, 0, scale=1 / 8)
        down = cv2.Sobel(smooth, cv2.CV_32F, 0, 1, scale=1 / 8)
        chosen = [_steepest(np.hypot(across, down), tile) for tile in _tiles(first.shape)]
        chosen = [tile for tile in chosen if len(tile)]
        self._at = np.concatenate(chosen) if chosen else np.zeros(0, np.intp)
        self._tile = np.repeat(np.arange(len(chosen)), [len(c) for c in chosen])
        self._count = len(chosen)
        self._was = first.ravel()[self._at].astype(np.float64)
        self._x, self._y = (g.ravel()[self._at].astype(np.float64) for g in (across, down))
        self._steep = float(np.median(np.hypot(self._x, self._y))) if chosen else 0.0
        self._soft = _softened(first)

    def stands(self, picture: Grey) -> bool:
        """Tell whether less than a tenth of a pixel of shift is seen in most tiles."""
        if self._count < _FEWEST_TILES:
            return False
        off = self._was - picture.ravel()[self._at]
        off -= np.median(off)  # the exposure
        if float(np.median(np.abs(off))) > 0.5 * self._steep:
            return False  # moved by more than a step can tell
        x, y = self._x, self._y
        xx, xy, yy, rx, ry = (
            np.bincount(self._tile, product, self._count)
            for product in (x * x, x * y, y * y, x * off, y * off)
        )
        det = xx * yy - xy * xy + 1e-9
        shift = np.hypot((yy * rx - xy * ry) / det, (xx * ry - xy * rx) / det)
        return bool(np.median(shift) < _STANDS_PX and np.mean(shift < 3 * _STANDS_PX) > _MOST)

    def alike(self, picture: Grey) -> bool:
        """Tell whether most tiles with any contrast at all show what they showed at first.

        Coding wipes out the grain of a plain wall, so no point of it can be followed; its
        broad light and dark stay, and would change if the camera turned away.
        """
        now = _softened(picture)
        off = now - self._soft
        same = []
        for rows, columns in _tiles(now.shape):
            contrast = float(self._soft[rows, columns].std())
            if contrast > _FLAT:
                part = off[rows, columns]
                changed = float(np.median(np.abs(part - np.median(part))))  # the light left out
                same.append(changed < _ALIKE_SHARE * contrast)
        return len(same) >= _FEWEST_ALIKE and float(np.mean(same)) > _MOST

    def explained(self, picture: Grey, matrix: NDArray[np.float64]) -> bool:
        """Tell whether a move of the camera explains the picture better than none does."""
        now = _softened(picture)
        quarter = matrix.copy()
        quarter[:, 2] /= 4
        size = (now.shape[1], now.shape[0])
        flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        moved = cv2.warpAffine(now, quarter, size, flags=flags, borderMode=cv2.BORDER_REPLICATE)
        still, back = (np.abs(p - self._soft - np.median(p - self._soft)) for p in (now, moved))
        # each tile has one vote: the model's has more contrast than a plain wall
        votes = [back[tile].mean() < still[tile].mean() for tile in _tiles(now.shape)]
        return bool(np.mean(votes) > 0.5)


def _softened(image: Grey) -> Image:
    """Shrink to a quarter by averaging, and blur: only the broad light and dark stays."""
    size = (image.shape[1] // 4, image.shape[0] // 4)
    small = cv2.resize(image, size, interpolation=cv2.INTER_AREA).astype(np.float32)
    soft: Image = cv2.GaussianBlur(small, (0, 0), 1.0)
    return soft


def half(image: Grey) -> Grey:
    """Shrink to half width and height by averaging."""
    size = (image.shape[1] // HALF, image.shape[0] // HALF)
    small: Grey = cv2.resize(image, size, interpolation=cv2.INTER_AREA)
    return small


def _corners(image: Grey) -> NDArray[np.float32]:
    """Find corner points spread over the whole picture, a share from each tile."""
    found = []
    for rows, columns in _tiles(image.shape):
        tile = image[rows, columns]
        points = cv2.goodFeaturesToTrack(tile, _POINTS // 15, 0.05, 6)
        if points is not None and float(tile.std()) > _FLAT:
            found.append(points + np.array([columns.start, rows.start], np.float32))
    return np.concatenate(found).astype(np.float32) if found else np.zeros((0, 1, 2), np.float32)


def _tiles(shape: tuple[int, ...]) -> list[tuple[slice, slice]]:
    """Cut a picture into three by five tiles."""
    rows, columns = np.linspace(0, shape[0], 4, dtype=int), np.linspace(0, shape[1], 6, dtype=int)
    return [
        (slice(int(top), int(bottom)), slice(int(left), int(right)))
        for top, bottom in pairwise(rows)
        for left, right in pairwise(columns)
    ]


def _steepest(slope: Image, tile: tuple[slice, slice]) -> NDArray[np.intp]:
    """Give the flat places of a tile's steepest pixels, none where the tile is flat."""
    part = slope[tile]
    if float(np.percentile(part, 98)) < _FLAT:
        return np.zeros(0, np.intp)
    best = np.argpartition(part.ravel(), -_LOOKED_AT)[-_LOOKED_AT:]
    rows, columns = np.unravel_index(best, part.shape)
    where: NDArray[np.intp] = (rows + tile[0].start) * slope.shape[1] + columns + tile[1].start
    return where


def _wide(points: NDArray[np.float32], width: int) -> bool:
    """Tell whether points lie over the picture's width, not on the model alone."""
    return len(points) > 1 and float(np.ptp(points[:, 0])) > _WIDE_SHARE * width


def _fit(
    before: NDArray[np.float32], after: NDArray[np.float32], width: int
) -> NDArray[np.float64] | None:
    """Fit a similarity (2, 3) to the greater part of the points, others left out."""
    # the shift that most points share; a train that hides half of them has no such say
    shifts = after - before
    apart = np.hypot(*(shifts[:, None] - shifts[None]).transpose(2, 0, 1))
    votes = (apart < _AGREE_PX).sum(axis=1)
    close = apart[int(np.argmax(votes))] < 2 * _AGREE_PX
    for _ in range(3):
        if close.sum() < 6:
            return None
        x, y = before[close].T.astype(np.float64)
        u, v = after[close].T.astype(np.float64)
        one, zero = np.ones_like(x), np.zeros_like(x)
        system = np.vstack([np.stack([x, -y, one, zero], 1), np.stack([y, x, zero, one], 1)])
        a, b, c, d = np.linalg.lstsq(system, np.concatenate([u, v]), rcond=None)[0]
        matrix = np.array([[a, -b, c], [b, a, d]])
        miss = np.hypot(*((before @ matrix[:, :2].T + matrix[:, 2]) - after).T)
        close = miss < max(0.3, 3 * float(np.median(miss[close])))
    # the still world must be the greater part and wide, or nothing is known of the camera
    agree = miss < _AGREE_PX
    known = agree.mean() > _STILL_SHARE and _wide(before[agree], width)
    return matrix if known else None


@dataclass(frozen=True, slots=True)
class Still:
    """What does not move.

    Parameters
    ----------
    background : ndarray [shape=(h, w), uint8]
        Grey picture without the model.
    noise : float
        Standard deviation of one pixel over time, in grey levels.
    spread : ndarray [shape=(h, w), float32]
        Local standard deviation over time, robust; never below ``noise``.
    reach : ndarray [shape=(h, w), uint8]
        Brightest minus darkest value over time.
    empty : ndarray [shape=(h, w), uint8] or None
        Background by the first frame, when the last looks like it and others do not.
    strange : ndarray [shape=(h, w), bool] or None
        Where the background was never seen and only made up.
    """

    background: Grey
    noise: float
    spread: Image
    reach: Grey
    empty: Grey | None = None
    strange: NDArray[np.bool_] | None = None


class Sampler:
    """Keeps frames that differ: a model at rest for a minute counts as one sample."""

    def __init__(self) -> None:
        self._kept: list[Grey] = []
        self._small: Grey | None = None
        self._every, self._different = 1, 0
        self._steps: list[float] = []
        self._noise: list[float] = []
        self._last: Grey | None = None
        self.brightest = 0.0

    def add(self, frame: Grey) -> None:
        """Look at one steady frame."""
        self._last = frame
        small = _eighth(frame)
        if small.max() > self.brightest:
            self.brightest = max(self.brightest, float(np.percentile(small, 99)))
        if self._small is not None and _changed_share(small, self._small) < _DIFFERENT:
            self._note_noise(frame)
            return
        self._small = small
        self._different += 1
        if (self._different - 1) % self._every:
            return
        self._kept.append(frame)
        if len(self._kept) >= 2 * _SAMPLES:
            # later frames must not count more than those before: thin what is to come as well
            self._kept, self._every = self._kept[::2], 2 * self._every

    def _note_noise(self, frame: Grey) -> None:
        if len(self._noise) < 20:
            self._noise.append(_noise_between(self._kept[-1], frame))

    def learn(self) -> Still:
        """Take the median of the samples."""
        chosen = self._kept[:: max(1, len(self._kept) // _SAMPLES)]
        background = in_order(chosen)[len(chosen) // 2]
        apart = in_order([cv2.absdiff(sample, background) for sample in chosen])
        off = np.float32(1.4826) * apart[len(chosen) // 2]
        pairs = [_noise_between(a, b) for a, b in pairwise(chosen)]
        noise = max(0.5, float(np.median(self._noise + pairs))) if self._noise + pairs else 1.0
        spread = np.maximum(cv2.blur(off, (5, 5)), np.float32(noise))
        calm = [cv2.blur(sample, (5, 5)) for sample in chosen]  # coding noise averages out
        reach = np.max(calm, axis=0) - np.min(calm, axis=0)
        return Still(background, noise, spread, reach, self._empty())

    def _empty(self) -> Grey | None:
        """Median of all samples that look like the first, if the last one does."""
        last = [self._last] if self._last is not None else []
        small = [_eighth(k) for k in (*self._kept, *last)]
        changed = [_changed_share(s, small[0]) for s in small]
        if changed[-1] > 0.004 or max(changed) < 0.01:
            return None
        alike = [k for k, c in zip(self._kept, changed, strict=False) if c < 0.004]
        return in_order(alike[:15])[len(alike[:15]) // 2]


def _eighth(image: Grey) -> Grey:
    """Shrink to an eighth by averaging whole squares."""
    rows, columns = image.shape[0] // 8, image.shape[1] // 8
    whole = image[: 8 * rows, : 8 * columns]
    small: Grey = cv2.resize(whole, (columns, rows), interpolation=cv2.INTER_AREA)
    return small


def _changed_share(one: Grey, other: Grey) -> float:
    return float(np.count_nonzero(cv2.absdiff(one, other) > _CHANGED)) / one.size


def in_order(pictures: list[Grey]) -> list[Grey]:
    """Sort each pixel over the pictures: a network of whole-picture minima and maxima.

    Batcher's merge exchange (Knuth, The Art of Computer Programming 3, algorithm 5.2.2M).
    """
    line = list(pictures)
    n = len(line)
    top = 1 << max(0, (n - 1).bit_length() - 1)
    p = top
    while n > 1 and p:
        q, r, d = top, 0, p
        while True:
            for i in range(n - d):
                if i & p == r:
                    line[i], line[i + d] = (cv2.min(line[i], line[i + d]),
                                            cv2.max(line[i], line[i + d]))  # fmt: skip
            if q == p:
                break
            q, r, d = q >> 1, p, q - p
        p >>= 1
    return line


def _noise_between(one: Grey, other: Grey) -> float:
    """Noise of one pixel from two frames; the moving part is too small to matter."""
    apart = np.abs(one[::3, ::3].astype(np.int16) - other[::3, ::3])
    # the mean of the smaller 80 % of |d| for a normal law is 0.5586 of its deviation
    cut = np.sort(apart.ravel())[: int(0.8 * apart.size)]
    return float(cut.mean()) / 0.5586 / math.sqrt(2)
