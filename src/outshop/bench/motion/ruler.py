"""What turns pixels into millimetres, and how sure it is."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from outshop.bench.motion.layers import Sheet
from outshop.errors import InputError

Floats = NDArray[np.float64]
_END_PX = 0.85  # standard error of one found end of the model, working pixels (methods/motion.md)
MARK_PX = 0.8  # standard error of one mark set by hand, pixels of the clip (our assumption)
_LENGTH_MM = 0.002  # relative standard error of a length over buffers measured with a caliper
_SHORTEST_PX = 20
# rows fainter than this share of the usual contrast tell no end; low down they are shadow
_FAINT_SHARE, _SHADOW_SHARE, _LOW_SHARE = 0.15, 0.45, 0.7
# below this share of the height shadow is likely: buffers mostly stand higher, 1060 mm above the
# rail of vehicles of up to 4280 mm (UIC 527-1, UIC 505-1; from memory), but a low frame does not
_UNDER_SHARE, _SOLID_SHARE = 0.8, 0.7
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
    left, right, error = ends(sheet)
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


def ends(sheet: Sheet) -> tuple[float, float, float]:
    """Find the model's two ends in the sheet.

    Returns
    -------
    left, right : float
        Edges, in pixels of the sheet.
    error : float
        Standard error of their distance.
    """
    left, left_error = _end(sheet.contrast, sheet.cover)
    flipped, right_error = _end(sheet.contrast[:, ::-1], sheet.cover[:, ::-1])
    right = sheet.cover.shape[1] - flipped
    return left, right, math.hypot(left_error, right_error)


def _end(contrast: NDArray[np.float32], cover: NDArray[np.float32]) -> tuple[float, float]:
    """Find the leftmost edge that several rows agree on; edges are pixel borders.

    Each row's edge lies where the contrast falls to half of what it is just inside; blur
    by focus or motion is even on both sides and so does not move it.
    """
    usual = float(np.median(contrast[cover > 0.5])) if (cover > 0.5).any() else 0.0
    rows = np.flatnonzero((cover > 0.5).any(axis=1))
    tall = rows[-1] - rows[0] if len(rows) else 0
    low, under = (rows[0] + s * tall if len(rows) else 0.0 for s in (_LOW_SHARE, _UNDER_SHARE))
    least = np.full(len(contrast), _FAINT_SHARE * usual)
    heights = np.arange(len(contrast))
    least[heights > low], least[heights > under] = _SHADOW_SHARE * usual, _SOLID_SHARE * usual
    found = [_row_edge(c, a, b) for c, a, b in zip(contrast, cover, least, strict=True)]
    edges = [edge for edge in found if edge is not None]
    if not edges:
        return 0.0, float(contrast.shape[1]) / 4
    order = np.sort(np.array(edges))
    need = max(3, round(0.05 * len(order)))
    for first in order:
        near = order[(order >= first) & (order < first + 1.5)]
        if len(near) >= need:
            spread = float(near.std()) if len(near) > 2 else 0.5
            return float(near.mean()), math.hypot(_END_PX, spread / math.sqrt(len(near)))
    return float(order[0]), 2.0


def _row_edge(
    contrast: NDArray[np.float32], cover: NDArray[np.float32], least: float
) -> float | None:
    # light that drifts can pass for cover outside the model, but it has no contrast
    inside = np.flatnonzero((cover > 0.6) & (contrast > max(6.0, least) / 2))
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
        return 0.5
    low, high = float(contrast[at - 1]), float(contrast[at])
    # pixel i covers i .. i + 1; the step lies where the interpolated profile crosses the level
    part = (high - level) / max(high - low, 1e-6)
    return at + 0.5 - part
