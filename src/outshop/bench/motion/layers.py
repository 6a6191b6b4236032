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
from outshop.bench.motion.placing import MARGIN, Probe, Sheet, View
from outshop.bench.motion.still import Image, Still

__all__ = ["MARGIN", "Places", "Sheet", "follow", "learn_sheet", "part_of"]
_TEACHERS = 40  # frames that the sheet is learnt from
_ROUNDS = 3
_PIECE_SHARE = 0.2  # a wagon counts, a rim does not
_LOST = 1.6  # misfit of a place that tells nothing about the next
# share of the light left in a shadow; darker is paint (our assumption: a room's light comes from
# many sides), for over a plain wall a dark model would else pass for a darkening of the wall
_DARKEST, _FAINTEST = 0.5, 0.97
_NEIGHBOURS = 7  # pixels on a side of the area that is asked
Floats = NDArray[np.float64]


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
    px, py = x[chosen] - MARGIN, y[chosen] - MARGIN
    shape = (size[1] + 2 * MARGIN, size[0] + 2 * MARGIN)
    views = [View(sights[i], still, a, b, shape) for i, a, b in zip(chosen, px, py, strict=True)]
    sheet = _compose(views, px, py, still)
    for _ in range(rounds):
        probe = Probe(sheet)
        found = [probe.place(v, a, b) for v, a, b in zip(views, px, py, strict=True)]
        px = np.array([f[0] for f in found])
        py = np.array([f[1] for f in found])
        sheet = _compose(views, px, py, still)
    return sheet, px, py


def follow(sights: list[Sight], sheet: Sheet, still: Still, x: Floats, y: Floats) -> Places:
    """Place the sheet in every sight, starting from rough places of the sheet's corner."""
    probe, shape = Probe(sheet), (sheet.cover.shape[0], sheet.cover.shape[1])
    rows = []
    dx = dy = 0.0  # how far off the rough place was, the last time
    for sight, a, b in zip(sights, x, y, strict=True):
        view = View(sight, still, a, b, shape)
        px, py, fit = probe.place(view, a + dx, b + dy, search=True)
        dx, dy = (px - a, py - b) if fit < _LOST else (0.0, 0.0)
        rows.append((sight.t_s, px, py, fit, probe.inside(view, px)))
    return Places(*np.array(rows).T)


def part_of(sheet: Sheet, columns: slice) -> Sheet:
    """Keep only some columns' say in the placing."""
    weight = np.zeros_like(sheet.weight)
    weight[:, columns] = sheet.weight[:, columns]
    return replace(sheet, weight=weight)


def _compose(views: list[View], x: Floats, y: Floats, still: Still) -> Sheet:
    """Lay the teachers over each other."""
    placed = [v.held(a, b) for v, a, b in zip(views, x, y, strict=True)]
    cuts = [v.cut(a, b) for v, (a, b) in zip(views, placed, strict=True)]
    seen, behind = [cut[0] for cut in cuts], [cut[1] for cut in cuts]
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
    shade = (dimmed > _DARKEST) & (dimmed < _FAINTEST)
    like_paint, like_shade = (cv2.blur(off, (9, 5)) for off in (off_paint, off_shade))
    solid = ~shade | (2 * like_paint + noise + 4 < like_shade)
    model &= ~_mostly(shade & (off_shade < 0.6 * off_paint))
    model = _main_piece(_filled(model))
    cover = cv2.GaussianBlur(model.astype(np.float32), (0, 0), 0.6)
    spread = off_paint
    # the plain mean: over a striped wall a percentile would jump between two levels
    with np.errstate(all="ignore"), warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # pixels that no frame shows
        apart = np.abs(frames - grounds)
        usual = np.nanmean(apart, axis=0)
        known = [v.known(a, b) for v, (a, b) in zip(views, placed, strict=True)]
        if any(k is not None for k in known):  # a made-up background tells no contrast
            for layer, k in zip(apart, known, strict=True):
                layer[~k if k is not None else slice(0)] = np.nan
            sure = np.nanmean(apart, axis=0)
            usual = np.where(np.isfinite(sure), sure, usual)
        usual = np.nan_to_num(usual)
    # the mean of |noise| is sqrt(2 / pi) of its deviation
    contrast = np.maximum(usual - np.float32(0.798 * still.noise), 0).astype(np.float32)
    weight = (1 / (noise + np.maximum(spread, noise) + 1)).astype(np.float32)
    return Sheet(paint * cover, cover, contrast, weight, solid & model)


def _mostly(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Keep what most of its neighbours are as well: a shadow is an area, no sprinkling."""
    most = cv2.medianBlur(mask.astype(np.uint8), _NEIGHBOURS)
    return np.asarray(mask & (most > 0))


def _filled(model: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Fill pixels that lie amid the model: where it looks like the wall, noise decides."""
    most = cv2.medianBlur(model.astype(np.uint8), _NEIGHBOURS)
    return np.asarray(model | (most > 0))


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
