"""A quantity over the years, each reading with its interval."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from html import escape

WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 640.0, 150.0, 70.0, 610.0, 14.0, 112.0
AIR = 0.08  # share of the height left free above and below


@dataclass(frozen=True, slots=True)
class Point:
    """One reading on one day; ``low`` and ``high`` bound its interval."""

    day: date
    value: float
    low: float
    high: float


def history_chart(points: Sequence[Point], unit: str, title: str) -> str:
    """Draw readings over time, with their intervals as upright lines.

    Parameters
    ----------
    points : sequence of Point
        In order of time.
    unit : str
    title : str
        What the drawing shows, for those who cannot see it.

    Returns
    -------
    str
        SVG; empty without points.
    """
    if not points:
        return ""
    first, last = points[0].day.toordinal(), points[-1].day.toordinal()
    low, high = min(p.low for p in points), max(p.high for p in points)
    span = (high - low) or abs(high) or 1.0

    def x(day: date) -> float:
        share = (day.toordinal() - first) / (last - first) if last > first else 0.5
        return round(LEFT + share * (RIGHT - LEFT), 1)

    def y(amount: float) -> float:
        share = AIR + (1 - 2 * AIR) * (amount - low) / span
        return round(BOTTOM - share * (BOTTOM - TOP), 1)

    said = "; ".join(f"{p.day} {p.value:.4g} {unit}" for p in points)
    parts = [
        f'<svg class="timeline" viewBox="0 0 {WIDTH:.0f} {HEIGHT:.0f}" role="img" ',
        f'aria-label="{escape(f"{title}: {said}", quote=True)}" ',
        'xmlns="http://www.w3.org/2000/svg">',
        f'<path class="ink thin" d="M{LEFT} {TOP}V{BOTTOM}H{RIGHT}" fill="none" stroke="#17262b"/>',
    ]
    parts += [
        (
            f'<text class="label lower" x="{LEFT - 6}" y="{y(amount) + 4}" text-anchor="end" '
            f'font-size="12">{amount:.4g}</text>'
        )
        for amount in dict.fromkeys((low, high))
    ]
    parts += [
        (
            f'<text class="label lower" x="{x(day)}" y="{BOTTOM + 22}" text-anchor="middle" '
            f'font-size="12">{day}</text>'
        )
        for day in dict.fromkeys((points[0].day, points[-1].day))
    ]
    course = "L".join(f"{x(p.day)} {y(p.value)}" for p in points)
    parts.append(f'<path class="ink thin" d="M{course}" fill="none" stroke="#5b6b6e"/>')
    parts += [
        (
            f'<path class="ink" d="M{x(p.day)} {y(p.low)}V{y(p.high)}" stroke="#17262b"/>'
            f'<circle cx="{x(p.day)}" cy="{y(p.value)}" r="3.5" fill="#0f6a5b"/>'
        )
        for p in points
    ]
    parts.append(
        f'<text class="label lower start" x="{LEFT + 6}" y="{TOP + 4}" font-size="12">'
        f"{escape(unit)}</text>"
    )
    return "".join(parts) + "</svg>"
