"""From a printed strip seen in the clip to a ruler for the model's way."""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from outshop.bench.motion.markers import Sighting, as_seen, homography
from outshop.bench.motion.ruler import Plane, Ruler, ruler_from_marks
from outshop.bench.motion.strip import printed_scale
from outshop.bench.motion.track import Trail
from outshop.errors import InputError

Floats = NDArray[np.float64]
# focal length over the picture's longer side: a lens like 28 mm on 36 mm film, as most phones have
# as their main one (our assumption), and its relative standard error
_FOCAL, _FOCAL_ERROR = 0.8, 0.25
_CAMERA_ERROR = 0.03  # relative standard error of a measured distance to the lens (our assumption)
_PLANE_MM = 2.0  # standard error of the strip's place where nobody measured it (our assumption)
_BEHIND_MM = 1.0  # and where somebody did
_FARTHEST_MM = 500.0
_Z = 1.959964  # normal 97.5 % quantile
_SINGLE_EDGE_PX = 0.4  # standard error of an edge of a single marker, pixels of the clip (blur)
_DRAWS = 24
_LEVEL_SHARE = 0.005  # relative error of the way beyond which the strip tells no perspective
_YAW_DEG = 2.0  # how far a camera set up by eye is off square (our assumption)


@dataclass(frozen=True, slots=True, kw_only=True)
class Print:
    """What the person knows of the printed strip.

    Parameters
    ----------
    control_mm : float, optional
        The control line as measured; it should be 100.
    behind_mm : float, optional
        How far the strip stands behind the model's side that faces the camera; negative
        is before it.
    camera_mm : float, optional
        From the lens to the model's side.
    """

    control_mm: float | None = None
    behind_mm: float | None = None
    camera_mm: float | None = None

    def checked(self) -> "Print":
        """Check once, at the door.

        Raises
        ------
        InputError
            A number that cannot be.
        """
        printed_scale(self.control_mm)
        behind, camera = self.behind_mm, self.camera_mm
        if behind is not None and not (math.isfinite(behind) and abs(behind) <= _FARTHEST_MM):
            raise InputError(
                f"a strip {behind:g} mm behind the model cannot be put right: give how far it "
                f"stands behind (or, below 0, before) its side, at most {_FARTHEST_MM:.0f} mm"
            )
        if camera is not None and not (math.isfinite(camera) and 30 <= camera <= 20_000):
            raise InputError(
                f"a lens {camera:g} mm from the model cannot be: give 30 to 20000 mm, or "
                "leave it out"
            )
        return self


def ruler_from_strip(
    seen: Sighting, known: Print, found: Trail, row_of_x: tuple[float, float], scale: float
) -> tuple[Ruler, tuple[str, ...]]:
    """Make a ruler of a strip.

    Parameters
    ----------
    seen : Sighting
        The strip, in pixels of the clip.
    known : Print
        What the person knows of it.
    found : Trail
        The model's way, which tells how the picture was straightened.
    row_of_x : tuple of float
        Slope and offset of the model's row over its column, in working pixels.
    scale : float
        Working pixels for one pixel of the clip.

    Returns
    -------
    Ruler
        With a plane, where the strip is long enough to show the perspective.
    warnings : tuple of str
        What a careful reader should know.
    """
    points = _straightened(seen.picture, found, scale)
    span = _level(seen.paper, points, row_of_x[0])
    longer = max(found.picture) / scale
    factor, fixed, off_plane = _in_the_plane(span / scale, known, longer)
    unsure = 2 * math.tan(math.radians(_YAW_DEG)) / (_FOCAL * max(found.picture))
    zoom = (found.zoom_per_px, found.zoom_error or unsure)
    warnings = (*seen.warnings, *_remarks(known, off_plane))
    rows = points.reshape(-1, 4, 2)
    if len(rows) == 1:
        sides = np.stack([(rows[0, 0] + rows[0, 3]) / 2, (rows[0, 1] + rows[0, 2]) / 2])
        distance = seen.strip.side_mm * factor
        plain = ruler_from_marks((sides, distance), _SINGLE_EDGE_PX * scale, zoom)
    else:
        moved = [
            (as_seen(seen.paper, picture), _straightened(picture, found, scale))
            for picture in _draws(seen)
        ]
        plane = _plane((seen.paper, points), moved, factor, row_of_x, fixed)
        way = found.x + found.sheet.cover.shape[1] / 2
        if plane.error_between(way) < math.hypot(fixed, _LEVEL_SHARE):
            return replace(_with_plane(plane, way, points), off_plane=off_plane), warnings
        spread = float(np.std([_level(*m, row_of_x[0]) for m in moved])) / span
        ends = (float(points[:, 0].min()), float(points[:, 0].max()))
        plain = Ruler(span / factor, sum(ends) / 2, zoom[0], spread, zoom[1], ends, "markers")
    return replace(
        plain,
        relative_error=math.hypot(plain.relative_error, fixed),
        source="markers",
        row_px=float(points[:, 1].mean()),
        off_plane=off_plane,
    ), warnings


def _plane(
    best: tuple[Floats, Floats],
    moved: list[tuple[Floats, Floats]],
    factor: float,
    row_of_x: tuple[float, float],
    fixed: float,
) -> Plane:
    """Fit the plane to corners on paper and in the picture, and to each draw of moved ones."""
    shrink = np.diag([factor, factor, 1.0])
    matrix, *others = (shrink @ np.linalg.inv(homography(*pair)) for pair in (best, *moved))
    return Plane(matrix, np.stack(others), row_of_x, fixed)


def _with_plane(plane: Plane, way: Floats, points: Floats) -> Ruler:
    """Wrap a plane; the scale shown is that at the middle of the way."""
    middle = float((way.min() + way.max()) / 2)
    apart = float(plane.along(np.array([middle - 1, middle + 1]))[1])
    ends = (float(points[:, 0].min()), float(points[:, 0].max()))
    error, row = plane.error_between(way), float(points[:, 1].mean())
    return Ruler(2 / apart, middle, 0.0, error, 0.0, ends, "markers", plane, row)


def _straightened(picture: Floats, found: Trail, scale: float) -> Floats:
    """Send pixels of the clip (n, 2) to the straightened working picture."""
    x, y = ((picture + 0.5) * scale - 0.5).T  # pixels are counted from their middles
    return np.stack(found.straighten(x, y), axis=1)


def _draws(seen: Sighting) -> Floats:
    """Corners moved by their standard error (k, n, 2)."""
    noise = np.random.default_rng(1).normal(0, seen.error_px, (_DRAWS, *seen.picture.shape))
    return np.asarray(seen.picture + noise, dtype=np.float64)


def _level(paper: Floats, points: Floats, slope: float) -> float:
    """Working pixels across the picture for one mm of way, perspective left out."""
    system = np.column_stack([paper, np.ones(len(paper))])
    fit = np.linalg.lstsq(system, points, rcond=None)[0][:2].T
    way = np.linalg.solve(fit, np.array([1.0, slope]))
    return 1.0 / float(np.hypot(*way))


def _in_the_plane(px_per_mm: float, known: Print, longer_px: float) -> tuple[float, float, float]:
    """Bring the strip's mm to the plane of the model's side.

    A thing at the distance S is seen smaller than one at S - b by (S - b) / S (similar
    triangles): so much shorter is a strip's mm in the model's plane, b before the strip.

    Returns
    -------
    factor : float
        Millimetres in the model's plane for one as designed, the print's scale included.
    error : float
        Its relative standard error.
    off_plane : float
        Relative change of all lengths for one mm that the strip stands off the plane.
    """
    behind = known.behind_mm or 0.0
    printed, print_error = printed_scale(known.control_mm)
    if known.camera_mm is not None:
        distance, blur = known.camera_mm + behind, _CAMERA_ERROR
    else:
        distance, blur = _FOCAL * longer_px / px_per_mm * printed, _FOCAL_ERROR
    if behind > 0.5 * distance:
        raise InputError(
            f"the strip cannot stand {behind:g} mm behind the model when the camera is only about "
            f"{distance:.0f} mm from the strip: measure both again"
        )
    share = behind / distance
    place = (_PLANE_MM if known.behind_mm is None else _BEHIND_MM) / distance
    return printed * (1 - share), math.hypot(print_error, share * blur, place), 1 / distance


def _remarks(known: Print, off_plane: float) -> list[str]:
    remarks = []
    if known.control_mm is None:
        remarks.append(
            "the strip's control line was not measured: a print at 97 % would make every speed "
            "3 % too high"
        )
    if known.behind_mm is None:
        allowed = _Z * _PLANE_MM
        remarks.append(
            "the strip is taken to stand in the plane of the model's side: each 10 mm behind it "
            f"would make speeds about {1000 * off_plane:.1f} % too high, before it too low; the "
            f"interval allows for {allowed:.0f} mm ({100 * allowed * off_plane:.1f} %)"
        )
    return remarks
