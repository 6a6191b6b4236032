"""Two layers, a moving sheet over a still one: the model's place to a fraction of a pixel.

The model is a sheet T with an opacity A that slides over the background B; a frame is
A(x - p) T(x - p) + (1 - A(x - p)) B(x). Given places p, T is the median of the frames laid
over each other, A follows from where T explains the frames better than B does; given T and
A, each p is the least-squares place (Gauss-Newton; as in Lucas and Kanade 1981, with the
background in the model instead of ignored).
"""

import warnings
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from outshop.bench.motion.movers import Sight
from outshop.bench.motion.still import Image, Still

_TEACHERS = 40  # frames that the sheet is learnt from
_ROUNDS = 3
_STEPS = 5
_POOR = 1.6  # misfit at which other starting places are tried
MARGIN = 10  # pixels of the sheet beyond the patch
_FAR = 9.0  # squared deviations beyond which a pixel counts less (Huber, k = 3)
_PIECE_SHARE = 0.2  # a wagon counts, a rim does not
_LOST = 0.25  # least share of the sheet that must be inside the picture to place it
Floats = NDArray[np.float64]


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
    """

    paint: Image
    cover: Image
    contrast: Image
    weight: Image


@dataclass(frozen=True, slots=True)
class Places:
    """Where the sheet's upper left corner lies in each sight.

    Parameters
    ----------
    t_s : ndarray [shape=(n,)]
        Time, in seconds.
    x, y : ndarray [shape=(n,)]
        Place, in working pixels.
    fit : ndarray [shape=(n,)]
        Root mean square misfit over the expected one; about 1 when all is well.
    inside : ndarray [shape=(n,)]
        Share of the sheet that is inside the picture.
    """

    t_s: Floats
    x: Floats
    y: Floats
    fit: Floats
    inside: Floats


def learn_sheet(
    sights: list[Sight],
    x: Floats,
    y: Floats,
    size: tuple[int, int],
    still: Still,
    rounds: int = _ROUNDS,
) -> tuple[Sheet, Floats, Floats]:
    """Learn the sheet from sights with rough places, refining both in turn.

    Parameters
    ----------
    sights : list of Sight
        Those in which the whole model is seen.
    x, y : ndarray [shape=(n,)]
        Rough places of the patch's upper left corner, in working pixels.
    size : tuple of int
        Width and height of the patch.
    still : Still
        The background.
    rounds : int
        How often the places are refined; 0 believes them.

    Returns
    -------
    sheet : Sheet
        The model; its corner lies a margin outside the patch's.
    x, y : ndarray [shape=(m,)]
        Refined places of the sheet in the teachers (a subset of the sights).
    """
    chosen = np.unique(np.linspace(0, len(sights) - 1, min(_TEACHERS, len(sights))).round())
    chosen = chosen.astype(int)
    teachers = [sights[i] for i in chosen]
    px, py = x[chosen] - MARGIN, y[chosen] - MARGIN
    shape = (size[1] + 2 * MARGIN, size[0] + 2 * MARGIN)
    sheet = _compose(teachers, px, py, shape, still)
    for _ in range(rounds):
        found = [_place(s, sheet, still, a, b) for s, a, b in zip(teachers, px, py, strict=True)]
        px = np.array([f[0] for f in found])
        py = np.array([f[1] for f in found])
        sheet = _compose(teachers, px, py, shape, still)
    return sheet, px, py


def follow(sights: list[Sight], sheet: Sheet, still: Still, x: Floats, y: Floats) -> Places:
    """Place the sheet in every sight, starting from rough places of the sheet's corner."""
    rows = []
    for sight, a, b in zip(sights, x, y, strict=True):
        rows.append((sight.t_s, *_place(sight, sheet, still, a, b, search=True)))
    t_s, px, py, fit, inside = np.array(rows).T
    return Places(t_s, px, py, fit, inside)


def part_of(sheet: Sheet, columns: slice) -> Sheet:
    """Keep only some columns' say in the placing."""
    weight = np.zeros_like(sheet.weight)
    weight[:, columns] = sheet.weight[:, columns]
    return replace(sheet, weight=weight)


def _compose(
    teachers: list[Sight], x: Floats, y: Floats, shape: tuple[int, int], still: Still
) -> Sheet:
    """Lay the teachers over each other."""
    seen, behind = [], []
    for sight, a, b in zip(teachers, x, y, strict=True):
        gain = _gain(sight, still)
        seen.append(_cut(_canvas(sight, still, gain), a, b, shape))
        behind.append(_cut(still.background.astype(np.float32) * gain, a, b, shape))
    frames, grounds = np.stack(seen), np.stack(behind)
    paint = np.nan_to_num(_percentile(frames, 0.5), nan=0.0)
    noise = still.noise**2
    off_paint = _robust_power(frames - paint)
    off_ground = _robust_power(frames - grounds)
    dimmed = _percentile((frames + 1) / (grounds + 1), 0.5)
    off_shade = _robust_power(frames + 1 - dimmed * (grounds + 1))
    # a pixel is the model's where the sliding sheet explains it and the background does not;
    # where the background shines through a darkening, it is the model's shadow
    model = off_ground > 1.3 * off_paint + 4 * noise + 9
    model &= ~((off_shade < 0.6 * off_paint) & (dimmed < 0.97))
    model = _main_piece(model)
    cover = cv2.GaussianBlur(model.astype(np.float32), (0, 0), 0.6)
    spread = off_paint
    # the plain mean: over a striped wall a percentile would jump between two levels
    with np.errstate(all="ignore"), warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # pixels that no frame shows
        usual = np.nan_to_num(np.nanmean(np.abs(frames - grounds), axis=0))
    # the mean of |noise| is sqrt(2 / pi) of its deviation
    contrast = np.maximum(usual - np.float32(0.798 * still.noise), 0).astype(np.float32)
    weight = (1 / (noise + np.maximum(spread, noise) + 1)).astype(np.float32)
    return Sheet(paint * cover, cover, contrast, weight)


def _main_piece(model: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Keep what hangs together; the rims of a shadow are thin lines of their own."""
    thick = cv2.morphologyEx(model.astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 1), np.uint8))
    joined = cv2.morphologyEx(thick, cv2.MORPH_CLOSE, np.ones((1, 5), np.uint8))
    count, labels, facts, _ = cv2.connectedComponentsWithStats(joined)
    if count < 2:
        return model
    areas = facts[1:, cv2.CC_STAT_AREA]
    kept = 1 + np.flatnonzero(areas > _PIECE_SHARE * areas.max())
    return np.isin(labels, kept) & model


def _robust_power(off: NDArray[np.float32]) -> NDArray[np.float32]:
    """Mean square over the frames, single wild ones left out."""
    # for a normal law the 60th percentile of |d| is 0.8416 deviations
    power: Image = np.nan_to_num(_percentile(np.abs(off), 0.6) / np.float32(0.8416)) ** 2
    return power


def _percentile(stack: NDArray[np.float32], share: float) -> NDArray[np.float32]:
    """Percentile over the first axis, NaN left out; NaN where all are."""
    order = np.sort(stack, axis=0)  # NaN goes last
    count = np.isfinite(stack).sum(axis=0)
    at = np.maximum(np.round(share * (count - 1)), 0).astype(np.intp)
    found: Image = np.take_along_axis(order, at[None], axis=0)[0]
    return found


def _gain(sight: Sight, still: Still) -> float:
    """Exposure of the frame against the background's, from the patch's rim."""
    h, w = sight.crop.shape
    ground = still.background[sight.top : sight.top + h, sight.left : sight.left + w]
    rim = np.concatenate([sight.crop[:4].ravel(), sight.crop[-4:].ravel()]).astype(np.float32)
    under = np.concatenate([ground[:4].ravel(), ground[-4:].ravel()]).astype(np.float32)
    ratio = float(np.median((rim + 1) / (under + 1)))
    return ratio if 0.01 < abs(ratio - 1) < 0.3 else 1.0


def _canvas(sight: Sight, still: Still, gain: float) -> Image:
    """Give the whole picture: background with the sight's crop laid in."""
    canvas = still.background.astype(np.float32)
    if gain != 1:
        canvas *= np.float32(gain)
    h, w = sight.crop.shape
    canvas[sight.top : sight.top + h, sight.left : sight.left + w] = sight.crop
    return canvas


def _cut(picture: Image, x: float, y: float, shape: tuple[int, int]) -> Image:
    """Cut a window at a place between pixels; NaN outside the picture."""
    matrix = np.array([[1.0, 0.0, x], [0.0, 1.0, y]])
    window: Image = cv2.warpAffine(
        picture,
        matrix,
        (shape[1], shape[0]),
        flags=cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=float("nan"),
    )
    return window


def _place(
    sight: Sight, sheet: Sheet, still: Still, x: float, y: float, *, search: bool = False
) -> tuple[float, float, float, float]:
    """Find the place of least misfit near (x, y); return x, y, fit and share inside."""
    view = _View(sight, sheet, still)
    best = view.descend(x, y)
    if search and best[2] > _POOR:
        others = [view.descend(x + dx, y) for dx in (-8, 8)]
        best = min([best, *others], key=lambda found: found[2])
    return *best, view.inside(best[0])


class _View:
    """One sight, ready to be compared with the sheet at any place."""

    def __init__(self, sight: Sight, sheet: Sheet, still: Still) -> None:
        self._stack = np.dstack([sheet.paint, sheet.cover, sheet.weight])
        self._h, self._w = sheet.cover.shape
        picture_h, picture_w = still.background.shape
        self._picture_width = picture_w
        pad = 12
        self._left = max(0, sight.left - pad)
        self._top = max(0, sight.top - pad)
        right = min(picture_w, sight.left + sight.crop.shape[1] + pad)
        bottom = min(picture_h, sight.top + sight.crop.shape[0] + pad)
        ground = still.background[self._top : bottom, self._left : right].astype(np.float32)
        gain = np.float32(_gain(sight, still))
        self._ground = ground * gain
        self._seen = self._ground.copy()
        at_y, at_x = sight.top - self._top, sight.left - self._left
        h, w = sight.crop.shape
        self._seen[at_y : at_y + h, at_x : at_x + w] = sight.crop

    def inside(self, x: float) -> float:
        """Share of the sheet's width within the picture."""
        shown = min(x + self._w - MARGIN, self._picture_width) - max(x + MARGIN, 0)
        return float(np.clip(shown / (self._w - 2 * MARGIN), 0, 1))

    def descend(self, x: float, y: float) -> tuple[float, float, float]:
        """Go down to the least misfit by Gauss-Newton steps; return x, y and the misfit."""
        for _ in range(_STEPS):
            dx, dy = self._step(x, y)
            x, y = x + dx, y + dy
            if abs(dx) + abs(dy) < 0.01:
                break
        return x, y, self._misfit(x, y)

    def _misfit(self, x: float, y: float) -> float:
        """Root mean square of the weighted difference over the sheet."""
        off, weight, *_ = self._off(x, y)
        reach = weight > 0
        size = np.minimum(off * off * weight, _FAR)
        expected = 0.3 * self._w * self._h * max(self.inside(x), 0.1)
        seen = float(np.count_nonzero(reach))
        return float(np.sqrt(size[reach].sum() / seen)) if seen > expected else 9.0

    def _off(self, x: float, y: float) -> tuple[Image, Image, Image, Image]:
        """Lay the sheet into the window: difference, weight, and its two slopes."""
        matrix = np.array([[1.0, 0.0, x - self._left], [0.0, 1.0, y - self._top]])
        size = (self._seen.shape[1], self._seen.shape[0])
        laid = cv2.warpAffine(self._stack, matrix, size, flags=cv2.INTER_LINEAR)
        paint, cover, weight = laid[..., 0], laid[..., 1], laid[..., 2]
        shown = paint - cover * self._ground
        return self._seen - self._ground - shown, weight, paint, cover

    def _step(self, x: float, y: float) -> tuple[float, float]:
        """Give one Gauss-Newton step, at most 4 pixels."""
        off, weight, paint, cover = self._off(x, y)
        size = off * off * weight
        weight = weight * np.where(size > _FAR, np.sqrt(_FAR / np.maximum(size, 1e-6)), 1)
        # moving the sheet by one pixel changes the prediction by minus its slope
        across, down = np.zeros_like(off), np.zeros_like(off)
        across[:, 1:-1] = paint[:, 2:] - paint[:, :-2]
        across[:, 1:-1] -= self._ground[:, 1:-1] * (cover[:, 2:] - cover[:, :-2])
        down[1:-1] = paint[2:] - paint[:-2]
        down[1:-1] -= self._ground[1:-1] * (cover[2:] - cover[:-2])
        across *= 0.5
        down *= 0.5
        wa, wd = weight * across, weight * down
        xx, xy, yy = float(np.vdot(wa, across)), float(np.vdot(wa, down)), float(np.vdot(wd, down))
        rx, ry = float(np.vdot(wa, off)), float(np.vdot(wd, off))
        damp = 1e-3 * (xx + yy) + 1e-9
        det = (xx + damp) * (yy + damp) - xy * xy
        if det <= 0:
            return 0.0, 0.0
        dx = -((yy + damp) * rx - xy * ry) / det
        dy = -((xx + damp) * ry - xy * rx) / det
        return float(np.clip(dx, -4, 4)), float(np.clip(dy, -1.5, 1.5))
