"""What turns pixels into millimetres, and how sure it is."""

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from outshop.bench.motion.layers import Sheet
from outshop.errors import InputError

Floats = NDArray[np.float64]
_END_PX = 0.65  # standard error of one found end of the model, working pixels (methods/motion.md)
MARK_PX = 0.8  # standard error of one mark set by hand, pixels of the clip (our assumption)
_LENGTH_MM = 0.002  # relative standard error of a length over buffers measured with a caliper
_SHORTEST_PX = 20
# rows fainter than this share of the usual contrast tell no end; what only may be paint must be
# stronger low down, or it is taken for shadow (ours)
_FAINT_SHARE, _SHADOW_SHARE, _LOW_SHARE = 0.15, 0.45, 0.7
_PAINTED_SHARE = 0.08  # of the widest row's paint: a row with less tells not of the height
_SOLID_SHARE, _INWARD_PX = 0.6, 10  # of so many pixels behind an end must be paint for sure
_AGREE_PX = 0.8  # between rows that show one end
_APART_PX = 1.5  # between two readings of one end that are no longer one
_Z = 1.959964  # normal 97.5 % quantile
_RAMP_PX = 16  # longest blur that is climbed, working pixels


@dataclass(frozen=True, slots=True)
class Marks:
    """Two points of known distance, in pixels of the clip as a player shows it."""

    x1: float
    y1: float
    x2: float
    y2: float
    distance_mm: float


@dataclass(frozen=True, slots=True)
class Plane:
    """The plane of the track as a printed strip shows it.

    Parameters
    ----------
    matrix : ndarray [shape=(3, 3)]
        From working pixels (straightened) to mm on the plane.
    others : ndarray [shape=(k, 3, 3)]
        The same with the corners moved by their standard error, k draws.
    line : tuple of float
        Slope and offset of the model's row over its column, in working pixels.
    fixed_error : float
        Relative standard error that all draws share: print and place of the strip.
    """

    matrix: Floats
    others: Floats
    line: tuple[float, float]
    fixed_error: float

    def along(self, x_px: Floats, matrix: Floats | None = None) -> Floats:
        """Send columns on the model's way to mm along it, 0 at the first."""
        x = np.asarray(x_px, dtype=float)
        points = np.stack([x, self.line[0] * x + self.line[1], np.ones_like(x)], axis=-1)
        lifted = points @ (self.matrix if matrix is None else matrix).T
        flat = lifted[..., :2] / lifted[..., 2:]
        far = int(np.argmax(np.abs(x - x.flat[0])))
        way = flat[far] - flat[0]
        length = float(np.hypot(*way))
        if length == 0:
            return np.zeros_like(x)
        sign = 1.0 if x[far] >= x[0] else -1.0
        placed: Floats = sign * (flat - flat[0]) @ way / length
        return placed

    def error_between(self, x_px: Floats) -> float:
        """Relative standard error of the way between the outermost of these columns."""
        ends = np.array([np.min(x_px), np.max(x_px)])
        ways = np.array([self.along(ends, other)[1] for other in self.others])
        return math.hypot(self.fixed_error, float(ways.std()) / float(self.along(ends)[1] or 1.0))

    def error_apart(self, one_px: Floats, other_px: Floats) -> float:
        """Relative standard error of the ratio of two ways."""
        ends = [np.array([np.min(x), np.max(x)]) for x in (one_px, other_px)]
        shares = [self.along(ends[0], m)[1] / self.along(ends[1], m)[1] for m in self.others]
        return float(np.std(shares) / np.mean(shares))


@dataclass(frozen=True, slots=True)
class Ruler:
    """A scale along the picture: ``px_per_mm`` at ``at_px``, changing by ``zoom`` a pixel.

    Parameters
    ----------
    px_per_mm : float
        Working pixels for one millimetre at ``at_px``.
    at_px : float
        Where along the picture that holds.
    zoom : float
        Relative change for one pixel to the right.
    relative_error : float
        Relative standard error of ``px_per_mm``.
    zoom_error : float
        Standard error of ``zoom``.
    ends_px : tuple of float
        Left and right end of what was measured against, in working pixels.
    source : str
        ``length``, ``marks`` or ``markers``.
    plane : Plane, optional
        Takes the place of scale and zoom where the strip shows the perspective.
    row_px : float, optional
        Row of the ends, where they do not lie on the model.
    off_plane : float
        Relative change of all lengths for one mm that a strip stands behind the model's side.
    markers_px : tuple of float
        Corners of the printed markers in pixels of the clip, x and y in turn, eight for each.
    """

    px_per_mm: float
    at_px: float
    zoom: float
    relative_error: float
    zoom_error: float
    ends_px: tuple[float, float]
    source: str
    plane: Plane | None = None
    row_px: float | None = None
    off_plane: float = 0.0
    markers_px: tuple[float, ...] = ()

    def millimetres(self, x_px: Floats) -> Floats:
        """Send places along the picture to places along the track, from some zero."""
        if self.plane is not None:
            return self.plane.along(x_px)
        off = np.asarray(x_px, dtype=float) - self.at_px
        if abs(self.zoom) * max(1.0, float(np.abs(off).max(initial=0))) < 1e-6:
            return off / self.px_per_mm
        return np.log1p(np.maximum(self.zoom * off, -0.9)) / (self.zoom * self.px_per_mm)

    def error_between(self, x_px: Floats) -> float:
        """Relative standard error of a way covered at these places."""
        if self.plane is not None:
            return self.plane.error_between(x_px)
        off = float(np.mean(x_px)) - self.at_px
        return math.hypot(self.relative_error, self.zoom_error * off)

    def error_apart(self, one_px: Floats, other_px: Floats) -> float:
        """Relative standard error of the ratio of two ways at different places.

        What the whole ruler is off by cancels; what stays is how its scale changes along it.
        """
        if self.plane is not None:
            return self.plane.error_apart(one_px, other_px)
        return self.zoom_error * abs(float(np.mean(one_px)) - float(np.mean(other_px)))


def check_length(length_mm: float) -> float:
    """Check a model's length at the door."""
    if not math.isfinite(length_mm) or not 5 <= length_mm <= 5000:
        raise InputError(
            f"a length over buffers of {length_mm:g} mm cannot serve as a ruler: give the "
            "model's measured length, 5 to 5000 mm"
        )
    return length_mm


def check_marks(marks: Marks, width: int, height: int) -> Marks:
    """Check two marks at the door; the picture's size in pixels as a player shows it."""
    numbers = (marks.x1, marks.y1, marks.x2, marks.y2, marks.distance_mm)
    if not all(map(math.isfinite, numbers)):
        raise InputError("marks need five plain numbers: x1,y1,x2,y2,MM")
    if not 1 <= marks.distance_mm <= 100_000:
        raise InputError(
            f"a distance of {marks.distance_mm:g} mm between the marks cannot serve as a ruler: "
            "give the measured distance in mm"
        )
    for x, y in ((marks.x1, marks.y1), (marks.x2, marks.y2)):
        if not (0 <= x <= width and 0 <= y <= height):
            raise InputError(
                f"the mark at {x:g},{y:g} lies outside the picture of {width} by {height} pixels"
            )
    if math.hypot(marks.x2 - marks.x1, marks.y2 - marks.y1) < _SHORTEST_PX:
        raise InputError("the two marks are too close together: set them at least 20 pixels apart")
    return marks


def ruler_from_length(
    sheet: Sheet, at_px: float, length_mm: float, zoom: tuple[float, float]
) -> Ruler:
    """Use the model's own length; ``at_px`` is where the sheet's corner lay on average."""
    left, right, error, _ = ends(sheet)
    span = right - left
    middle = at_px + (left + right) / 2
    relative = math.hypot(error / span, _LENGTH_MM)
    return Ruler(
        span / length_mm,
        middle,
        zoom[0],
        relative,
        zoom[1],
        (at_px + left, at_px + right),
        "length",
    )


def ruler_from_marks(
    marks: tuple[Floats, float], error_px: float, zoom: tuple[float, float]
) -> Ruler:
    """Use two marks (2, 2) in working pixels at a known distance in mm."""
    (x1, _), (x2, _) = ends_px = marks[0]
    flat = float(np.hypot(*(ends_px[1] - ends_px[0])))
    relative = math.sqrt(2) * error_px / flat
    left, right = sorted((float(x1), float(x2)))
    return Ruler(
        flat / marks[1], (left + right) / 2, zoom[0], relative, zoom[1], (left, right), "marks"
    )


class Ends(NamedTuple):
    """The model's two ends in the sheet.

    Parameters
    ----------
    left, right : float
        Edges, in pixels of the sheet.
    error : float
        Standard error of their distance.
    unsure_px : float
        How far they lie apart further if what may be shadow is the model's own frame; both
        readings are within the error.
    """

    left: float
    right: float
    error: float
    unsure_px: float


def ends(sheet: Sheet) -> Ends:
    """Find the model's two ends in the sheet."""
    left = _end(sheet.contrast, sheet.cover, sheet.solid)
    flipped = _end(sheet.contrast[:, ::-1], sheet.cover[:, ::-1], sheet.solid[:, ::-1])
    right = sheet.cover.shape[1] - flipped.at
    # a shadow or frame is likely so at both ends: what is unsure adds up
    unsure = left.unsure + flipped.unsure
    error = math.hypot(left.error, flipped.error) + unsure / 2 / _Z
    return Ends(left.at, right, error, unsure)


class _Edge(NamedTuple):
    at: float
    error: float
    unsure: float = 0.0


def _end(
    contrast: NDArray[np.float32], cover: NDArray[np.float32], solid: NDArray[np.bool_]
) -> _Edge:
    """Find the leftmost edge that several rows agree on; edges are pixel borders.

    Each row's edge lies where the contrast falls to half of what it is just inside; blur
    by focus or motion is even on both sides and so does not move it.
    """
    usual = float(np.median(contrast[cover > 0.5])) if (cover > 0.5).any() else 0.0
    low = _low_row(cover, solid)
    sure: list[float] = []
    maybe: list[float] = []
    for row, (c, a) in enumerate(zip(contrast, cover, strict=True)):
        edge = _row_edge(c, a, _FAINT_SHARE * usual)
        if edge is None or edge > len(c) - _INWARD_PX:
            continue
        inward = slice(int(edge) + 1, int(edge) + 1 + _INWARD_PX)
        if row <= low or solid[row, inward].mean() > _SOLID_SHARE:
            sure.append(edge)
        elif float(np.median(c[inward])) > _SHADOW_SHARE * usual:
            maybe.append(edge)
    far, near = _outermost(sure + maybe), _outermost(sure)
    if far is None:
        return _Edge(0.0, float(contrast.shape[1]) / 4)
    if near is None or near.at - far.at < _APART_PX:
        return far
    return _Edge((near.at + far.at) / 2, max(near.error, far.error), near.at - far.at)


def _low_row(cover: NDArray[np.float32], solid: NDArray[np.bool_]) -> float:
    """Give the row from which on a shadow may be: by the paint, as far as there is any."""
    mine = (cover > 0.5) & solid
    paint = mine.sum(axis=1)
    rows = np.flatnonzero(paint > _PAINTED_SHARE * paint.max(initial=0))
    if not len(rows):
        return 0.0
    return float(rows[0] + _LOW_SHARE * (rows[-1] - rows[0]))


def _outermost(edges: list[float]) -> _Edge | None:
    """Give the leftmost edge that several agree on; None where there is none at all."""
    if not edges:
        return None
    order = np.sort(np.array(edges))
    need = max(3, round(0.05 * len(order)))
    for group in np.lib.stride_tricks.sliding_window_view(order, min(need, len(order))):
        if len(group) == need and group[-1] - group[0] < _AGREE_PX:
            near = order[np.abs(order - np.median(group)) < _AGREE_PX]
            spread = float(near.std()) if len(near) > 2 else 0.5
            return _Edge(float(near.mean()), math.hypot(_END_PX, spread / math.sqrt(len(near))))
    return _Edge(float(order[0]), 2.0)


def _row_edge(
    contrast: NDArray[np.float32], cover: NDArray[np.float32], least: float
) -> float | None:
    # light that drifts can pass for cover outside the model, but it has no contrast
    inside = np.flatnonzero((cover > 0.6) & (contrast > max(6.0, least)))
    if len(inside) < 4:
        return None
    first = int(inside[0])
    if cover[first : first + 4].mean() < 0.6:
        return None
    top = first  # climb the ramp that blur by motion has made, to where it is level
    while top < min(first + _RAMP_PX, len(contrast) - 2) and contrast[top + 1] > contrast[top]:
        top += 1
    plateau = max(float(contrast[top]), float(np.median(contrast[first + 1 : first + 6])))
    if plateau < max(6.0, least):
        return None
    level = plateau / 2
    at = max(first + 2, top)
    while at > 0 and contrast[at - 1] > level:
        at -= 1
    if at == 0:
        return None  # it goes on to the sheet's rim
    low, high = float(contrast[at - 1]), float(contrast[at])
    # pixel i covers i .. i + 1; the step lies where the interpolated profile crosses the level
    part = (high - level) / max(high - low, 1e-6)
    return at + 0.5 - part
