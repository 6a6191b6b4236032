"""Printed strips in rendered clips: drawn from the stated distances with OpenCV's own markers.

Nothing here is shared with the strips that Outshop prints or looks for: numbers, sides and
distances are typed in from the printed sheet.
"""

import cv2
import numpy as np

from .film import Camera

# first number, count, side and pitch in mm, as the sheet says
SHEET = {"A": (0, 7, 25.0, 40.0), "B": (10, 11, 15.0, 25.0), "C": (24, 17, 10.0, 16.0)}
DOTS = 8  # for one mm


def strip_texture(name, only=None):
    """White card with the markers, 6 mm of it around them; ``only`` some of the numbers."""
    first, count, side, pitch = SHEET[name]
    card = np.full(
        (round((side + 12) * DOTS), round(((count - 1) * pitch + side + 12) * DOTS)), 235.0
    )
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_50)
    for k in range(count):
        if only is None or first + k in only:
            marker = cv2.aruco.generateImageMarker(dictionary, first + k, round(side * DOTS))
            left = round((6 + k * pitch) * DOTS)
            card[6 * DOTS : 6 * DOTS + len(marker), left : left + len(marker)] = 20 + marker * 0.84
    return card.astype(np.float32)


def strip_on_wall(name="A", low_mm=-60.0, behind_mm=0.0, printed=1.0, only=None, at_mm=0.0):
    """Give a painter of a strip whose lower edge stands at ``low_mm``, upright along the track."""
    # a soft card, so that each part of a pixel may look at one spot of it
    card = cv2.GaussianBlur(strip_texture(name, only), (0, 0), DOTS * 0.15)
    there = np.ones_like(card)

    def paint(wall, scene):
        view = Camera(scene, behind_mm)
        height, width = wall.shape
        grid = np.mgrid[0:height, 0:width].astype(np.float64)
        total, covered = np.zeros_like(wall), np.zeros_like(wall)
        steps = (np.arange(3) + 0.5) / 3 - 0.5
        for dx in steps:
            for dy in steps:
                x, y = grid[1] + dx, grid[0] + dy
                m = view.to_plane
                w = m[2, 0] * x + m[2, 1] * y + m[2, 2]
                along = (m[0, 0] * x + m[0, 1] * y + m[0, 2]) / w - at_mm
                up = (m[1, 0] * x + m[1, 1] * y + m[1, 2]) / w - low_mm
                u = (along / printed * DOTS + card.shape[1] / 2 - 0.5).astype(np.float32)
                v = (card.shape[0] - 0.5 - up / printed * DOTS).astype(np.float32)
                total += cv2.remap(card, u, v, cv2.INTER_LINEAR, borderValue=0)
                covered += cv2.remap(there, u, v, cv2.INTER_LINEAR, borderValue=0)
        wall *= 1 - covered / len(steps) ** 2
        wall += total / len(steps) ** 2
        wall[:] = cv2.GaussianBlur(wall, (0, 0), 0.5)  # the lens

    return paint
