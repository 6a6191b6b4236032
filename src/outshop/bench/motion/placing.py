"""One frame against the sliding sheet: the place of least misfit, to a fraction of a pixel.

The sheet stays on its pixels and the frame is read between its own (inverse composition;
Baker and Matthews 2004), so the sheet's slopes are worked out once, and only the pixels
that tell most are compared.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from outshop.bench.motion.movers import Sight
from outshop.bench.motion.still import Image, Still

_STEPS = 6
_NEAR_PX = 0.01  # a step below this is the last
_POOR = 1.6  # misfit at which other starting places are tried
_FAR = 9.0  # squared deviations beyond which a pixel counts less (Huber, k = 3)
_TELLING = 4000  # pixels of the sheet that are compared
_FEWEST = 40
_NOWHERE = 9.0  # misfit of a place where too little is seen
_SLACK = 24  # pixels around the rough place that a view holds
_RIM = 2  # pixels that reading between pixels needs around it
MARGIN = 10  # pixels of the sheet beyond the patch


@dataclass(frozen=True, slots=True)
class Sheet:
    """The model as a sliding sheet.

    Parameters
    ----------
    paint : ndarray [shape=(h, w), float32]
        Opacity times grey level.
    cover : ndarray [shape=(h, w), float32]
        Opacity, 0 to 1.
    contrast : ndarray [shape=(h, w), float32]
        Mean distance from the background it passes, in grey levels, noise taken off.
    weight : ndarray [shape=(h, w), float32]
        One over the variance of what the sheet predicts (turning wheels count little).
    solid : ndarray [shape=(h, w), bool]
        Where it is paint for sure; elsewhere a shadow on plain ground would look the same.
    """

    paint: Image
    cover: Image
    contrast: Image
    weight: Image
    solid: NDArray[np.bool_]


class View:
    """A frame and the background around a rough place, read at any place between pixels.

    Parameters
    ----------
    sight : Sight
        The frame's patch; around it the frame is taken to show the background.
    still : Still
        The background.
    x, y : float
        Rough place of the window's upper left corner, in working pixels.
    shape : tuple of int
        Height and width of the window.
    """

    def __init__(
        self, sight: Sight, still: Still, x: float, y: float, shape: tuple[int, int]
    ) -> None:
        self.shape = shape
        self._left, self._top = math.floor(x) - _SLACK, math.floor(y) - _SLACK
        around = 2 * _SLACK + 1
        ground = _taken(still.background, self._left, self._top, shape, around)
        self.gain = _gain(sight, still)
        self._ground = ground.astype(np.float32) * np.float32(self.gain)
        self._seen = self._ground.copy()
        _lay(self._seen, sight.crop, sight.left - self._left, sight.top - self._top)
        strange = still.strange
        self._strange = None
        if strange is not None:
            taken = _taken(strange.astype(np.uint8), self._left, self._top, shape, around)
            self._strange = taken if taken.any() else None
        self.picture_width = still.background.shape[1]
        self._picture_height = still.background.shape[0]

    def held(self, x: float, y: float) -> tuple[float, float]:
        """Give the nearest place that the view holds."""
        low, high = _RIM, 2 * _SLACK - _RIM
        return (
            min(max(x, self._left + low), self._left + high),
            min(max(y, self._top + low), self._top + high),
        )

    def windows(self, x: float, y: float) -> tuple[Image, Image]:
        """Read frame and background at a place; each has a rim of one more pixel around."""
        at_x, at_y = x - self._left, y - self._top
        column, row = math.floor(at_x), math.floor(at_y)
        rows = slice(row - 1, row + self.shape[0] + 2)
        columns = slice(column - 1, column + self.shape[1] + 2)
        across, down = _taps(at_x - column), _taps(at_y - row)
        seen, ground = (
            cv2.sepFilter2D(image[rows, columns], cv2.CV_32F, across, down, anchor=(1, 1))
            for image in (self._seen, self._ground)
        )
        return seen, ground

    def cut(self, x: float, y: float) -> tuple[Image, Image]:
        """Read frame and background at a place; NaN outside the picture."""
        seen, ground = (image[1:-2, 1:-2].copy() for image in self.windows(x, y))
        h, w = self.shape
        for image in (seen, ground):
            image[:, self._outside(x, w, self.picture_width)] = np.nan
            image[self._outside(y, h, self._picture_height)] = np.nan
        return seen, ground

    def known(self, x: float, y: float) -> NDArray[np.bool_] | None:
        """Tell where the background at a place was ever seen; None when all of it was."""
        if self._strange is None:
            return None
        row, column = round(y - self._top), round(x - self._left)
        part = self._strange[row : row + self.shape[0], column : column + self.shape[1]]
        return np.asarray(part == 0)

    def within(self, x: float, columns: NDArray[np.intp]) -> NDArray[np.bool_] | None:
        """Tell which of the window's columns lie in the picture; None when all do."""
        if x >= 0 and x + self.shape[1] <= self.picture_width - 1:
            return None
        within: NDArray[np.bool_] = (columns + x >= 0) & (columns + x <= self.picture_width - 1)
        return within

    @staticmethod
    def _outside(start: float, size: int, whole: int) -> NDArray[np.bool_]:
        at = np.arange(size) + start
        outside: NDArray[np.bool_] = (at < 0) | (at > whole - 1)
        return outside


class Probe:
    """The sheet's most telling pixels, and how a shift would show in them."""

    def __init__(self, sheet: Sheet) -> None:
        self._size = sheet.cover.shape
        paint_x, paint_y = _slopes(sheet.paint)
        cover_x, cover_y = _slopes(sheet.cover)
        step = np.hypot(cover_x, cover_y) * cv2.dilate(sheet.contrast, np.ones((3, 3), np.uint8))
        texture = np.where(cv2.erode(sheet.cover, np.ones((3, 3))) > 0.99, 1, 0)
        telling = sheet.weight * (step + texture * np.hypot(paint_x, paint_y)) ** 2
        found = np.flatnonzero(telling.ravel() > 0)
        if len(found) > _TELLING:
            found = found[np.argpartition(telling.ravel()[found], -_TELLING)[-_TELLING:]]
        rows, self._columns = np.unravel_index(found, self._size)
        self._at = (rows + 1) * (self._size[1] + 3) + self._columns + 1
        self._paint, self._open, self._weight = (
            image.ravel()[found] for image in (sheet.paint, 1 - sheet.cover, sheet.weight)
        )
        self._paint_x, self._paint_y, self._cover_x, self._cover_y = (
            image.ravel()[found] for image in (paint_x, paint_y, cover_x, cover_y)
        )

    def place(
        self, view: View, x: float, y: float, *, search: bool = False
    ) -> tuple[float, float, float]:
        """Find the place of least misfit near (x, y); return x, y and the misfit."""
        best = self._descend(view, x, y)
        if search and best[2] > _POOR:
            others = [self._descend(view, x + dx, y) for dx in (-8, 8)]
            best = min([best, *others], key=lambda found: found[2])
        return best

    def inside(self, view: View, x: float) -> float:
        """Share of the sheet's width within the picture."""
        wide = self._size[1]
        shown = min(x + wide - MARGIN, view.picture_width) - max(x + MARGIN, 0)
        return float(np.clip(shown / (wide - 2 * MARGIN), 0, 1))

    def _descend(self, view: View, x: float, y: float) -> tuple[float, float, float]:
        """Go down to the least misfit by Gauss-Newton steps."""
        misfit = _NOWHERE
        for _ in range(_STEPS):
            x, y = view.held(x, y)
            dx, dy, misfit = self._step(view, x, y)
            x, y = x + dx, y + dy
            if abs(dx) + abs(dy) < _NEAR_PX:
                break
        return x, y, misfit

    def _step(self, view: View, x: float, y: float) -> tuple[float, float, float]:
        """Give one Gauss-Newton step, at most 4 pixels, and the misfit before it."""
        seen, ground = (image.ravel()[self._at] for image in view.windows(x, y))
        off = seen - self._paint * np.float32(view.gain) - self._open * ground
        weight = self._weight
        within = view.within(x, self._columns)
        count = len(off)
        if within is not None:
            weight = np.where(within, weight, 0)
            count = int(np.count_nonzero(within))
        if count < max(_FEWEST, 0.05 * len(off)):
            return 0.0, 0.0, _NOWHERE
        size = off * off * weight
        misfit = math.sqrt(float(np.minimum(size, _FAR).sum()) / count)
        weight = weight * np.sqrt(_FAR / np.maximum(size, _FAR))
        across = self._paint_x - self._cover_x * ground
        down = self._paint_y - self._cover_y * ground
        wa, wd = weight * across, weight * down
        xx, xy, yy = float(wa @ across), float(wa @ down), float(wd @ down)
        rx, ry = float(wa @ off), float(wd @ off)
        damp = 1e-3 * (xx + yy) + 1e-9
        det = (xx + damp) * (yy + damp) - xy * xy
        dx = -((yy + damp) * rx - xy * ry) / det
        dy = -((xx + damp) * ry - xy * rx) / det
        return min(max(dx, -4.0), 4.0), min(max(dy, -1.5), 1.5), misfit


def _slopes(image: Image) -> tuple[Image, Image]:
    """Slope across and down, in grey levels a pixel."""
    across = cv2.Sobel(image, cv2.CV_32F, 1, 0, ksize=1, scale=0.5)
    down = cv2.Sobel(image, cv2.CV_32F, 0, 1, ksize=1, scale=0.5)
    return across, down


def _taps(part: float) -> NDArray[np.float32]:
    """Weights of four neighbours for a place ``part`` after the second (Keys 1981, a = -1/2)."""
    f, g, h = part, part * part, part * part * part
    taps = (-f / 2 + g - h / 2, 1 - 2.5 * g + 1.5 * h, f / 2 + 2 * g - 1.5 * h, (h - g) / 2)
    return np.array(taps, np.float32)


def _taken(
    picture: NDArray[np.uint8], left: int, top: int, shape: tuple[int, int], around: int
) -> NDArray[np.uint8]:
    """Take a piece of a picture, its rim repeated outside."""
    rows = np.clip(np.arange(top, top + shape[0] + around), 0, picture.shape[0] - 1)
    columns = np.clip(np.arange(left, left + shape[1] + around), 0, picture.shape[1] - 1)
    return picture[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1][
        np.ix_(rows - rows[0], columns - columns[0])
    ]


def _lay(canvas: Image, piece: NDArray[np.uint8], left: int, top: int) -> None:
    """Lay a piece into a canvas, as far as it reaches."""
    x0, y0 = max(left, 0), max(top, 0)
    x1 = min(left + piece.shape[1], canvas.shape[1])
    y1 = min(top + piece.shape[0], canvas.shape[0])
    if x1 > x0 and y1 > y0:
        canvas[y0:y1, x0:x1] = piece[y0 - top : y1 - top, x0 - left : x1 - left]


def _gain(sight: Sight, still: Still) -> float:
    """Exposure of the frame against the background's, from the patch's rim."""
    h, w = sight.crop.shape
    ground = still.background[sight.top : sight.top + h, sight.left : sight.left + w]
    rim = np.concatenate([sight.crop[:4:2, ::2].ravel(), sight.crop[-4::2, ::2].ravel()])
    under = np.concatenate([ground[:4:2, ::2].ravel(), ground[-4::2, ::2].ravel()])
    ratio = float(np.median((rim + np.float32(1)) / (under + np.float32(1))))
    return ratio if 0.01 < abs(ratio - 1) < 0.3 else 1.0
