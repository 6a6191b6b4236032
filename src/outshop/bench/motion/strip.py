"""The printed ruler strips: where each marker lies, in mm.

Markers are those of OpenCV's predefined dictionary of 50 markers of 4 by 4 cells (Garrido-Jurado
et al. 2014, Pattern Recognition 47); a marker's number tells which strip it is on and where.
"""

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from outshop.errors import InputError

Floats = NDArray[np.float64]
DICTIONARY = cv2.aruco.DICT_4X4_50
CELLS = 6  # a marker's cells across, its black rim included (OpenCV's definition)
CONTROL_MM = 100.0  # length of the printed control line
CONTROL_RANGE_MM = (80.0, 120.0)  # beyond it no printer's scaling, but a slip, is likely
_CONTROL_ERROR_MM = 0.2  # standard error of the control line read off a steel rule (our assumption)
_PRINTER_SHARE = 0.003  # standard error of an unchecked print at true scale (our assumption)


@dataclass(frozen=True, slots=True)
class Strip:
    """One strip: equal markers in a row.

    Parameters
    ----------
    name : str
        Letter printed on it.
    first : int
        Number of its leftmost marker; they count upwards to the right.
    count : int
        How many markers.
    side_mm : float
        Side of a marker, its black rim included.
    pitch_mm : float
        From marker to marker.
    """

    name: str
    first: int
    count: int
    side_mm: float
    pitch_mm: float

    @property
    def numbers(self) -> range:
        """Numbers of the markers, left to right."""
        return range(self.first, self.first + self.count)

    @property
    def length_mm(self) -> float:
        """From the first marker's left rim to the last one's right rim."""
        return (self.count - 1) * self.pitch_mm + self.side_mm

    def corners(self, number: int) -> Floats:
        """Corners (4, 2) of a marker in mm, clockwise from the upper left; y counts downwards.

        The origin is the middle of the strip.
        """
        x = (number - self.first) * self.pitch_mm - self.length_mm / 2
        half, side = self.side_mm / 2, self.side_mm
        return np.array([[x, -half], [x + side, -half], [x + side, half], [x, half]])


# sizes for wide, middle and narrow pictures, each to fill the width of A4 held upright or across
STRIPS = (
    Strip("A", 0, 7, 25.0, 40.0),
    Strip("B", 10, 11, 15.0, 25.0),
    Strip("C", 24, 17, 10.0, 16.0),
)


def strip_of(number: int) -> Strip | None:
    """Give the strip that holds a marker, or None."""
    return next((s for s in STRIPS if number in s.numbers), None)


def cells(number: int) -> NDArray[np.bool_]:
    """Black cells (6, 6) of a marker, its rim included."""
    dictionary = cv2.aruco.getPredefinedDictionary(DICTIONARY)
    return np.asarray(cv2.aruco.generateImageMarker(dictionary, number, CELLS)) < 128


def printed_scale(control_mm: float | None) -> tuple[float, float]:
    """Give the scale at which the strip was printed and its relative standard error.

    Parameters
    ----------
    control_mm : float or None
        The control line as measured; None when nobody did.

    Raises
    ------
    InputError
        No printer makes 100 mm into that.
    """
    if control_mm is None:
        return 1.0, _PRINTER_SHARE
    low, high = CONTROL_RANGE_MM
    if not (math.isfinite(control_mm) and low <= control_mm <= high):
        raise InputError(
            f"a control line of {control_mm:g} mm cannot be: it is printed {CONTROL_MM:.0f} mm "
            f"long, and {low:.0f} to {high:.0f} mm can be put right; measure it with a steel rule"
        )
    return control_mm / CONTROL_MM, _CONTROL_ERROR_MM / CONTROL_MM
