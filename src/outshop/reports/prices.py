"""Prices over the years: sales as dots, their course with its band, values on record as steps."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape
from itertools import pairwise
from math import ceil, floor, log10

WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 640.0, 280.0, 64.0, 490.0, 14.0, 240.0
TICKS_WANTED = 5
DASHES = ("", "7 4", "2 4")  # lines are told apart by their dashes and a word, not by colour alone
Place = Callable[[float], float]
LEAST_GAP = 16.0  # between the words at the right


@dataclass(frozen=True, slots=True)
class Line:
    """Amounts over time, each holding until the next; the name stands at its end."""

    name: str
    points: tuple[tuple[float, float], ...]


def price_chart(
    sales: Sequence[tuple[float, float]],
    course: Sequence[tuple[float, float, float, float]],
    lines: Sequence[Line],
    unit: str,
    title: str,
) -> str:
    """Draw prices over time.

    Parameters
    ----------
    sales : sequence of (year, price)
        Year with its fraction.
    course : sequence of (year, low, middle, high)
        Fitted price and the interval of one more sale; may be empty.
    lines : sequence of Line
        Values on record.
    unit : str
        Currency.
    title : str
        What the drawing shows, for those who cannot see it.

    Returns
    -------
    str
        SVG; empty when there is nothing to draw.
    """
    dots = [*sales, *(point for line in lines for point in line.points)]
    if not dots:
        return ""
    years = [x for x, _ in dots] + [c[0] for c in course]
    first, last = floor(min(years)), ceil(max(years) + 0.01)
    top = _nice_top(max([y for _, y in dots] + [c[3] for c in course]))

    def x(year: float) -> float:
        return round(LEFT + (year - first) / (last - first) * (RIGHT - LEFT), 1)

    def y(amount: float) -> float:
        return round(BOTTOM - min(1.0, amount / top) * (BOTTOM - TOP), 1)

    parts = [
        (
            f'<svg class="timeline" viewBox="0 0 {WIDTH:.0f} {HEIGHT:.0f}" role="img" '
            f'aria-label="{escape(title, quote=True)}" xmlns="http://www.w3.org/2000/svg">'
        )
    ]
    if course:
        there = [f"{x(c[0])} {y(c[3])}" for c in course]
        back = [f"{x(c[0])} {y(c[1])}" for c in reversed(course)]
        middle = "L".join(f"{x(c[0])} {y(c[2])}" for c in course)
        parts.append(f'<path class="named" fill="#e4ebe7" d="M{"L".join([*there, *back])}Z"/>')
        parts.append(f'<path class="ink thin" fill="none" stroke="#17262b" d="M{middle}"/>')
    parts += _axes(first, last, top, unit, x, y)
    parts += [
        f'<circle class="dot" cx="{x(a)}" cy="{y(b)}" r="4" fill="#17262b"/>' for a, b in sales
    ]
    words = []
    for number, line in enumerate(lines):
        steps = f"M{x(line.points[0][0])} {y(line.points[0][1])}" + "".join(
            f"H{x(a)}V{y(b)}" for a, b in line.points[1:]
        )
        parts.append(
            f'<path class="ink" d="{steps}H{RIGHT}" fill="none" stroke="#17262b" '
            f'stroke-width="2.2" stroke-dasharray="{DASHES[number % len(DASHES)] or "none"}"/>'
        )
        words.append((y(line.points[-1][1]), line.name))
    parts += _words(words)
    return "".join(parts) + "</svg>"


def _axes(first: int, last: int, top: float, unit: str, x: Place, y: Place) -> list[str]:
    parts = [f'<path class="ink thin" d="M{LEFT} {BOTTOM}H{RIGHT}" stroke="#17262b"/>']
    for step in range(1, TICKS_WANTED):
        amount = top * step / (TICKS_WANTED - 1)
        said = f"{amount:,.0f}".replace(",", "\u202f") if top >= TICKS_WANTED else f"{amount:.2g}"
        parts.append(
            f'<text class="label lower end" x="{LEFT - 8}" y="{y(amount) + 5}" '
            f'text-anchor="end" font-size="14">{said}</text>'
        )
    parts.append(
        f'<text class="label lower end" x="{LEFT - 8}" y="{BOTTOM + 5}" text-anchor="end" '
        f'font-size="14">{escape(unit)}</text>'
    )
    every = max(1, ceil((last - first) / TICKS_WANTED))
    years = [
        f'<path class="ink thin" d="M{x(year)} {BOTTOM}v6" stroke="#17262b"/>'
        f'<text class="label lower" x="{x(year)}" y="{BOTTOM + 24}" text-anchor="middle" '
        f'font-size="14">{year}</text>'
        for year in range(first, last + 1, every)
    ]
    return parts + years


def _words(words: Sequence[tuple[float, str]]) -> list[str]:
    """Write the names at the lines' ends, pushed apart so that they can be read."""
    places = sorted(words)
    spread = [places[0][0]] if places else []
    for (_, _name), (at, _next) in pairwise(places):
        spread.append(max(at, spread[-1] + LEAST_GAP))
    return [
        f'<text class="label lower start" x="{RIGHT + 8}" y="{at + 5:.1f}" font-size="14">'
        f"{escape(name)}</text>"
        for at, (_, name) in zip(spread, places, strict=True)
    ]


def _nice_top(most: float) -> float:
    """Give the next 1, 2, 4 or 8 times a power of ten, so that quarters are round."""
    if most <= 0:
        return 1.0
    power = 10.0 ** floor(log10(most))
    return next(float(k * power) for k in (1, 2, 4, 8, 10) if k * power >= most * (1 - 1e-9))
