"""A camera that looks along the track at a slant: made straight by a plane projection.

For a pinhole camera turned about the vertical, the scale along the track grows as the
square of a linear function of the place x in the picture, and heights grow as that
function itself: with u = x - x0 and v = y - y0 the map u' = u / (1 + q u),
v' = v / (1 + q u) gives the picture as a camera square to the track would have taken it
(a one-parameter homography; Hartley and Zisserman 2004, ch. 2).
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from outshop.bench.motion.movers import Box, Sight
from outshop.bench.motion.still import Still

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Slant:
    """The projection; ``q`` is half the relative change of scale for one pixel.

    Parameters
    ----------
    q : float
        Strength, in 1/pixel; 0 leaves everything where it is.
    x0, y0 : float
        The place that stays where it is, in working pixels.
    """

    q: float = 0.0
    x0: float = 0.0
    y0: float = 0.0

    @property
    def matrix(self) -> NDArray[np.float64]:
        """The (3, 3) matrix from the picture to the straightened one."""
        there = np.array([[1, 0, -self.x0], [0, 1, -self.y0], [0, 0, 1]])
        bend = np.array([[1, 0, 0], [0, 1, 0], [self.q, 0, 1]])
        back = np.array([[1, 0, self.x0], [0, 1, self.y0], [0, 0, 1]])
        return np.asarray(back @ bend @ there, dtype=np.float64)

    def straighten(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """Send places of the picture to the straightened one."""
        grow = 1 + self.q * (x - self.x0)
        return self.x0 + (x - self.x0) / grow, self.y0 + (y - self.y0) / grow

    def to_picture(self, x: Floats, y: Floats) -> tuple[Floats, Floats]:
        """Send places of the straightened picture back."""
        grow = 1 - self.q * (x - self.x0)
        return self.x0 + (x - self.x0) / grow, self.y0 + (y - self.y0) / grow

    def stronger(self, q: float) -> "Slant":
        """Add a remaining strength found in the straightened picture."""
        return replace(self, q=self.q + q)


def straighten_still(still: Still, slant: Slant, shift: float) -> Still:
    """Straighten the background; ``shift`` moves all to the right to keep it inside."""
    matrix, size = _moved(slant, still.background.shape, shift)
    background = cv2.warpPerspective(
        still.background, matrix, size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    spread = cv2.warpPerspective(still.spread, matrix, size, borderMode=cv2.BORDER_REPLICATE)
    strange = still.strange
    if strange is not None:
        strange = cv2.warpPerspective(strange.astype(np.uint8), matrix, size) > 0
    return replace(still, background=background, spread=spread, strange=strange)


def straighten_sight(sight: Sight, slant: Slant, width: int, shift: float) -> Sight:
    """Straighten one sight's crop and box."""
    h, w = sight.crop.shape
    cx, cy = slant.straighten(
        np.array([sight.left, sight.left + w, sight.left, sight.left + w], dtype=float),
        np.array([sight.top, sight.top, sight.top + h, sight.top + h], dtype=float),
    )
    left, top = int(np.ceil(cx.min() + shift)), int(np.ceil(cy.min()))
    right, bottom = int(np.floor(cx.max() + shift)), int(np.floor(cy.max()))
    left, top, right = max(left, 0), max(top, 0), min(right, width)
    inner = np.array([[1, 0, sight.left], [0, 1, sight.top], [0, 0, 1.0]])
    outer = np.array([[1, 0, shift - left], [0, 1, -top], [0, 0, 1.0]])
    crop = cv2.warpPerspective(
        sight.crop,
        outer @ slant.matrix @ inner,
        (max(right - left, 1), max(bottom - top, 1)),
        flags=cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    box = sight.box
    bx, by = slant.straighten(
        np.array([box.left, box.right, box.left, box.right], dtype=float),
        np.array([box.top, box.top, box.bottom, box.bottom], dtype=float),
    )
    straight = Box(
        round((bx[0] + bx[2]) / 2 + shift), round(by.min()),
        round((bx[1] + bx[3]) / 2 + shift), round(by.max()),
    )  # fmt: skip
    return Sight(sight.t_s, straight, sight.area, crop, left, top)


def reach_of(slant: Slant, shape: tuple[int, ...]) -> tuple[float, int]:
    """Shift that keeps the straightened picture's left end at 0, and its width."""
    xs, _ = slant.straighten(np.array([0.0, shape[1]]), np.array([slant.y0, slant.y0]))
    return float(-xs[0]), int(np.ceil(xs[1] - xs[0]))


def _moved(
    slant: Slant, shape: tuple[int, ...], shift: float
) -> tuple[NDArray[np.float64], tuple[int, int]]:
    _, width = reach_of(slant, shape)
    move = np.array([[1, 0, shift], [0, 1, 0], [0, 0, 1.0]])
    return move @ slant.matrix, (width, shape[0])
