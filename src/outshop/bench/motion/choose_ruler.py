"""Which ruler a clip is measured with: two marks, the printed strip, or the model's own length."""

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from outshop.bench.motion.footage import Footage
from outshop.bench.motion.markers import Sighting, find_strip
from outshop.bench.motion.ruler import (
    MARK_PX,
    Marks,
    Ruler,
    ends,
    ruler_from_length,
    ruler_from_marks,
)
from outshop.bench.motion.setup import Setup
from outshop.bench.motion.strip_ruler import Print, ruler_from_strip
from outshop.bench.motion.track import Trail
from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable, Reading
from outshop.media.limits import Limits

Floats = NDArray[np.float64]
_TOLD_SHARE = 0.01  # of the length: from here on the reader is told
_Z = 1.959964  # normal 97.5 % quantile


def strip_for(setup: Setup, footage: Footage, limits: Limits) -> Sighting | None:
    """Look for the printed strip when it is asked for, or when there is no other ruler."""
    other = setup.marks is not None or setup.length_mm is not None
    if other and setup.strip is None:
        return None
    seen = find_strip(footage.path, limits)
    if seen is None and setup.strip is not None:
        raise InputError(
            f"no marker of the printed strip is found in {footage.name}: show at least two whole "
            "ones, evenly lit and at least 25 pixels wide, or use another ruler"
        )
    if seen is None:
        raise InputError(
            "a ruler is needed: give the model's length over buffers or two marks of known "
            "distance, or show the printed strip"
        )
    return seen


def choose_ruler(
    found: Trail, setup: Setup, footage: Footage, strip: Sighting | None
) -> tuple[Ruler, Floats, tuple[str, ...]]:
    """Choose the ruler; also give the model's middle in working pixels, and remarks."""
    zoom = (found.zoom_per_px, found.zoom_error)
    unsure = 0.0
    if found.whole:
        left, right, _, unsure = ends(found.sheet)
        middle = found.x + (left + right) / 2
    else:
        middle = found.x + found.sheet.cover.shape[1] / 2
    at = float(found.teachers_x.mean())
    if setup.marks is not None:
        marks = _straightened(setup.marks, found, footage.scale)
        return ruler_from_marks(marks, MARK_PX * footage.scale, zoom), middle, ()
    if strip is not None:
        row = row_of(middle, found)
        ruler, remarks = ruler_from_strip(strip, setup.strip or Print(), found, row, footage.scale)
        corners = tuple(strip.picture.ravel().tolist())
        return replace(ruler, markers_px=corners), middle, remarks
    if not found.whole:
        raise InputError(
            f"the model in {footage.name} is longer than the picture, or its ends are not "
            "clear of the background, so its length cannot be the ruler: use two marks of known "
            "distance"
        )
    ruler = ruler_from_length(found.sheet, at, setup.length_mm or 0.0, zoom)
    return ruler, middle, _unsure_ends(unsure, ruler)


def _unsure_ends(unsure_px: float, ruler: Ruler) -> tuple[str, ...]:
    """Say so where the interval holds two readings of the ends."""
    span = abs(ruler.ends_px[1] - ruler.ends_px[0])
    if unsure_px < _TOLD_SHARE * span:
        return ()
    remark = (
        f"low down {100 * unsure_px / span:.1f} % of the length stick out that may be the model's "
        "frame or its shadow; the interval holds both: use two marks, or a softer light"
    )
    return (remark,)


def model_length(found: Trail, ruler: Ruler) -> Reading:
    """Give the model's length over buffers by a ruler that is not that length itself."""
    if ruler.source == "length":
        return NotMeasurable("the length over buffers was itself the ruler", "mm")
    if not found.whole:
        return NotMeasurable("the model was never seen whole", "mm")
    left, right, error, _ = ends(found.sheet)
    at = float(np.median(found.teachers_x))
    x = np.array([at + left, at + right])
    length = abs(float(np.diff(ruler.millimetres(x))[0]))
    relative = math.hypot(error / (right - left), ruler.error_between(x))
    return Estimate.plus_minus(
        length, _Z * relative * length, "mm", method=f"ends in the picture against {ruler.source}"
    )


def length_remark(length: Reading, given_mm: float | None) -> tuple[str, ...]:
    """Say so when the model's length by a ruler is not the one that was given."""
    if given_mm is None or not isinstance(length, Estimate):
        return ()
    if length.low * 0.99 <= given_mm <= length.high * 1.01:
        return ()
    remark = (
        f"by this ruler the model is {length.value:.1f} mm long, but {given_mm:g} mm was given: "
        "measure the ruler and the model again"
    )
    return (remark,)


def row_of(middle: Floats, found: Trail) -> tuple[float, float]:
    """Slope and offset of the model's middle row over its middle column."""
    y = found.y + found.sheet.cover.shape[0] / 2
    if np.ptp(middle) <= 50:
        return 0.0, float(np.median(y))
    slope, offset = np.polyfit(middle, y, 1)
    return float(slope), float(offset)


def _straightened(marks: Marks, found: Trail, scale: float) -> tuple[Floats, float]:
    """Give the two marks (2, 2) in the straightened picture, and their distance in mm."""
    x = np.array([marks.x1, marks.x2]) * scale
    y = np.array([marks.y1, marks.y2]) * scale
    return np.stack(found.straighten(x, y), axis=1), marks.distance_mm
