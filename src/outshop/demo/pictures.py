"""Drawn pictures of the invented pieces: side views in ink on paper."""

import io
from typing import Any

from PIL import Image, ImageDraw

from outshop.railway.arrangement import parse

PAPER, INK, WASH, FAINT = "#f3f5f2", "#17262b", "#d5ded9", "#8b9a98"
WIDTH, HEIGHT = 1600, 900
FINE = 2  # drawn larger and shrunk, for smooth edges
RAIL = 680  # height of the rail head in the picture
LONGEST_MM = 280.0  # a model of this length fills the picture


def side_view(piece: dict[str, Any], arrangement: str, length_mm: float) -> bytes:
    """Draw one piece.

    Parameters
    ----------
    piece : dict
        Uses ``kind``.
    arrangement : str
    length_mm : float

    Returns
    -------
    bytes
        JPEG.
    """
    image = Image.new("RGB", (WIDTH * FINE, HEIGHT * FINE), PAPER)
    pen = _Pen(ImageDraw.Draw(image))
    length = max(360, min(1400, 1400 * (length_mm / LONGEST_MM) ** 0.6))
    left, right = (WIDTH - length) / 2, (WIDTH + length) / 2
    pen.line([(60, RAIL), (WIDTH - 60, RAIL)], 6)
    if piece["kind"] == "steam":
        _steam(pen, left, right, tender="+" in arrangement)
    else:
        _box(pen, left, right, windows=piece["kind"] in ("coach", "railcar", "diesel"))
    _wheels(pen, arrangement, left, right)
    pen.text((60, HEIGHT - 150), "drawn for the demo; engine and railway are invented", 34, FAINT)
    small = image.resize((WIDTH, HEIGHT), Image.Resampling.LANCZOS)
    out = io.BytesIO()
    small.save(out, "JPEG", quality=88)
    return out.getvalue()


class _Pen:
    """Draws in picture coordinates at the finer scale."""

    def __init__(self, draw: ImageDraw.ImageDraw) -> None:
        self._draw = draw

    def line(self, points: list[tuple[float, float]], width: float = 4) -> None:
        self._draw.line([_fine(p) for p in points], INK, round(width * FINE), joint="curve")

    def box(self, x0: float, y0: float, x1: float, y1: float, fill: str = PAPER) -> None:
        self._draw.rectangle((*_fine((x0, y0)), *_fine((x1, y1))), fill, INK, 4 * FINE)

    def circle(self, x: float, y: float, r: float, fill: str = PAPER) -> None:
        ends = (*_fine((x - r, y - r)), *_fine((x + r, y + r)))
        self._draw.ellipse(ends, fill, INK, 5 * FINE)

    def text(self, at: tuple[float, float], words: str, size: int, colour: str) -> None:
        self._draw.text(_fine(at), words, colour, font_size=size * FINE)


def _fine(point: tuple[float, float]) -> tuple[float, float]:
    return point[0] * FINE, point[1] * FINE


def _steam(pen: _Pen, left: float, right: float, *, tender: bool) -> None:
    end = right - (right - left) * 0.36 if tender else right
    size = end - left
    pen.box(left, 520, end, 560, WASH)  # frame
    pen.box(left + size * 0.06, 360, end - size * 0.3, 520)  # boiler
    pen.box(left + size * 0.12, 260, left + size * 0.19, 360)  # chimney
    pen.circle(left + size * 0.42, 355, 34)  # dome
    pen.box(left + size * 0.06, 360, end - size * 0.3, 520)
    if not tender:
        pen.box(left + size * 0.3, 400, end - size * 0.3, 520, WASH)  # side tank
    pen.box(end - size * 0.3, 280, end - size * 0.06, 520)  # cab
    pen.box(end - size * 0.25, 310, end - size * 0.13, 400, WASH)
    pen.line([(end - size * 0.33, 280), (end - size * 0.03, 280)], 10)
    if tender:
        pen.box(end + 16, 380, right, 560)
        pen.line([(end, 550), (end + 16, 550)], 8)
    _buffers(pen, left, right)


def _box(pen: _Pen, left: float, right: float, *, windows: bool) -> None:
    pen.box(left, 340, right, 560)
    pen.line([(left - 8, 340), (right + 8, 340)], 12)
    if windows:
        count = max(3, int((right - left) / 120))
        step = (right - left) / count
        for i in range(count):
            pen.box(
                left + i * step + step * 0.2, 380, left + (i + 1) * step - step * 0.2, 450, WASH
            )
    pen.line([(left, 490), (right, 490)], 3)
    _buffers(pen, left, right)


def _buffers(pen: _Pen, left: float, right: float) -> None:
    for x, way in ((left, -1), (right, 1)):
        pen.line([(x, 535), (x + way * 22, 535)], 8)
        pen.line([(x + way * 22, 515), (x + way * 22, 555)], 8)


def _wheels(pen: _Pen, arrangement: str, left: float, right: float) -> None:
    axles = parse(arrangement).axles if arrangement else ()
    if not axles:  # a wagon
        for x in (left + 130, right - 130):
            pen.circle(x, RAIL - 44, 44, WASH)
            pen.circle(x, RAIL - 44, 8, INK)
        return
    radii = [62 if axle.driven and len(axles) > 2 else 44 for axle in axles]
    gap = (right - left - 120 - 2 * sum(radii)) / max(1, len(axles) - 1)
    x, centres = left + 60, []
    for radius in radii:
        centres.append(x + radius)
        x += 2 * radius + gap
    for axle, centre, radius in zip(axles, centres, radii, strict=True):
        pen.circle(centre, RAIL - radius, radius, PAPER if axle.driven else WASH)
        pen.circle(centre, RAIL - radius, 8, INK)
    driven = [c for axle, c in zip(axles, centres, strict=True) if axle.driven]
    if len(driven) > 1 and all(a.bogie is None for a in axles if a.driven):
        pen.line([(driven[0], RAIL - 48), (driven[-1], RAIL - 48)], 12)
