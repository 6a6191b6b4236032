"""The chart of a speed table: speed over setting, each direction and sweep by its own mark."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape

from outshop.bench.motion.speed_rows import DOWN, FORWARD, REVERSE, UP
from outshop.bench.motion.speed_table import SpeedTable
from outshop.estimate import Estimate
from outshop.railway.scales import scale_speed_km_h

WIDTH, HEIGHT = 460.0, 350.0
LEFT, RIGHT, TOP, BOTTOM = 46.0, 14.0, 92.0, 52.0
_SERIES = (
    (FORWARD, UP, "forward, raising"),
    (FORWARD, DOWN, "forward, lowering"),
    (REVERSE, UP, "reverse, raising"),
    (REVERSE, DOWN, "reverse, lowering"),
    (FORWARD, "", "forward"),
    (REVERSE, "", "reverse"),
)

Spot = tuple[float, float]
At = Callable[[Spot], Spot]


@dataclass(frozen=True, slots=True)
class Line:
    """Mean speeds of one direction and sweep, in the chart's unit, by setting."""

    direction: str
    sweep: str
    name: str
    spots: tuple[Spot, ...]


def speed_chart(
    table: SpeedTable, before: SpeedTable | None = None, *, words: dict[str, str] | None = None
) -> str:
    """Draw a speed table; the one before stands faintly behind it.

    Parameters
    ----------
    table : SpeedTable
        Drawn at full size (km/h) when its scale is known, else at the model (m/s).
    before : SpeedTable, optional
        Drawn when it has the same unit of setting.
    words : dict, optional
        Names of series and axes in the reader's language; English by default.

    Returns
    -------
    str
        One SVG; colours come from the page's style sheet.
    """
    say = words or {}
    lines = lines_of(table)
    behind = lines_of(before) if before and before.rows.unit == table.rows.unit else []
    if table.scale is not None and before is not None and before.scale != table.scale:
        behind = []
    spots = [s for line in (*lines, *behind) for s in line.spots]
    band = table.verdict.band if table.verdict and table.scale else None
    most_x = max(s for s, _ in spots) * 1.03 or 1.0
    most_y = max([v for _, v in spots] + ([band.high_km_h] if band else [])) * 1.06 or 1.0

    def at(spot: Spot) -> Spot:
        x = LEFT + spot[0] / most_x * (WIDTH - LEFT - RIGHT)
        return x, HEIGHT - BOTTOM - spot[1] / most_y * (HEIGHT - TOP - BOTTOM)

    parts = []
    if band is not None:
        (x0, y0), (x1, y1) = at((0, band.high_km_h)), at((most_x, band.low_km_h))
        size = f'width="{x1 - x0:.1f}" height="{max(y1 - y0, 2):.1f}"'
        parts.append(
            f'<rect x="{x0:.1f}" y="{y0:.1f}" {size} fill="currentColor" fill-opacity=".1"/>'
        )
        parts.append(_text(x0 + 6, y0 + 17, "NEM 661", "label lower start"))
    parts.append(_axes(most_x, most_y, table, say, at))
    parts += [_drawn(line, at, faint=True) for line in behind]
    parts += [_drawn(line, at, faint=False) for line in lines]
    parts += _turnings(table, at)
    parts += _legend(lines, say)
    said = say.get("said", "Speed over setting") + ": " + ", ".join(
        say.get(line.name, line.name) for line in lines
    )  # fmt: skip
    return (
        f'<svg viewBox="0 0 {WIDTH:g} {HEIGHT:g}" role="img" aria-label="{escape(said)}">'
        f"{''.join(parts)}</svg>"
    )


def lines_of(table: SpeedTable) -> list[Line]:
    """Give the mean speed at each setting, one line a direction and sweep."""
    factor = scale_speed_km_h(1.0, table.scale) if table.scale is not None else 1.0
    found = []
    for direction, sweep, name in _SERIES:
        groups: dict[float, list[float]] = {}
        for point in table.rows.along(direction, sweep):
            groups.setdefault(point.setting, []).append(point.speed_m_s * factor)
        if groups:
            spots = tuple((s, math.fsum(v) / len(v)) for s, v in sorted(groups.items()))
            found.append(Line(direction, sweep, name, spots))
    return found


def _drawn(line: Line, at: At, *, faint: bool) -> str:
    path = "L".join("{:.1f} {:.1f}".format(*at(spot)) for spot in line.spots)
    dash = ' stroke-dasharray="6 4"' if line.sweep == DOWN else ""
    weak = ' opacity=".3"' if faint else ""
    stroke = 'stroke="currentColor" stroke-width="1.6"'
    drawn = f'<path fill="none" {stroke}{dash} d="M{path}"/>'
    marks = "" if faint else "".join(_mark(line, at(spot), spot) for spot in line.spots)
    return f"<g{weak}>{drawn}{marks}</g>"


def _mark(line: Line, place: Spot, spot: Spot | None = None) -> str:
    """Draw a round mark forward, a square one in reverse; hollow when lowering."""
    x, y = place
    hollow = line.sweep == DOWN
    fill = "var(--sheet)" if hollow else "currentColor"
    paint = f'fill="{fill}" stroke="currentColor" stroke-width="1.6"'
    title = ""
    if spot is not None:
        title = f"<title>{escape(f'{line.name}: {spot[0]:g}, {spot[1]:.3g}')}</title>"
    if line.direction == REVERSE:
        box = f'x="{x - 4:.1f}" y="{y - 4:.1f}" width="8" height="8"'
        return f"<rect {box} {paint}>{title}</rect>"
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="4.5" {paint}>{title}</circle>'


def _turnings(table: SpeedTable, at: At) -> list[str]:
    """Mark the intervals of start (above) and drop-out (below) on the axis of settings."""
    parts = []
    for figures in table.ways.values():
        for reading, off in ((figures.start, -4.0), (figures.drop_out, 4.0)):
            if isinstance(reading, Estimate):
                (x0, y), (x1, _) = at((max(reading.low, 0), 0)), at((reading.high, 0))
                parts.append(
                    f'<path stroke="currentColor" stroke-width="3" '
                    f'd="M{x0 - 1:.1f} {y + off:.1f}H{x1 + 1:.1f}"/>'
                )
    return parts


def _legend(lines: Sequence[Line], say: dict[str, str]) -> list[str]:
    parts = []
    for number, line in enumerate(lines):
        x, y = LEFT + 8 + 205 * (number % 2), 14.0 + 26 * (number // 2)
        parts.append(_mark(line, (x, y)))
        parts.append(_text(x + 12, y + 5, say.get(line.name, line.name), "label lower start"))
    return parts


def _axes(most_x: float, most_y: float, table: SpeedTable, say: dict[str, str], at: At) -> str:
    x0, y0 = at((0, 0))
    x1, y1 = at((most_x, most_y))
    parts = [f'<path class="ink thin rail" d="M{x0:.1f} {y1:.1f}V{y0:.1f}H{x1:.1f}"/>']
    parts += [
        _text(at((value, 0))[0], y0 + 21, f"{value:g}", "label lower") for value in _ticks(most_x)
    ]
    parts += [
        _text(LEFT - 6, at((0, value))[1] + 5, f"{value:g}", "label lower end")
        for value in _ticks(most_y)
    ]
    setting = say.get("setting", table.rows.unit)
    parts.append(_text((x0 + x1) / 2, HEIGHT - 6, setting, "label lower"))
    unit = say.get("speed", "km/h" if table.scale is not None else "m/s")
    parts.append(_text(4, TOP - 16, unit, "label lower start"))
    return "".join(parts)


def _ticks(most: float) -> list[float]:
    raw = most / 5
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(m * power for m in (1, 2, 5, 10) if m * power >= raw)
    return [round(step * k, 10) for k in range(int(most / step) + 1)]


def _text(x: float, y: float, words: str, mark: str) -> str:
    return f'<text class="{mark}" x="{x:.1f}" y="{y:.1f}">{escape(words)}</text>'
