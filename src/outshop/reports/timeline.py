"""The timeline of evidence: one bar each, the dated years marked, the odd ones apart."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from html import escape

WIDTH, LEFT, RIGHT = 640.0, 188.0, 624.0
ROW, TOP = 30.0, 14.0
MARGIN_YEARS = 4  # shown beyond the evidence on each side
LONGEST_LABEL = 24  # letters that fit left of the bars at reading size
TICKS_WANTED = 6
STEPS = (1, 2, 5, 10, 20, 50, 100)


@dataclass(frozen=True, slots=True)
class Bar:
    """One evidence: its label, its spans of years, and whether it does not fit."""

    label: str
    spans: tuple[tuple[int | None, int | None], ...]
    odd: bool = False


def timeline(
    bars: Sequence[Bar],
    named: Sequence[Sequence[int]],
    core: Sequence[Sequence[int]],
    limits: tuple[int, int],
    title: str,
) -> str:
    """Draw the evidence over the years.

    Parameters
    ----------
    bars : sequence of Bar
    named : sequence of [from, to]
        The dated years, drawn as a wash behind the bars.
    core : sequence of [from, to]
        The likeliest of them, drawn darker.
    limits : (int, int)
        Years considered; open ends run to them.
    title : str
        What the drawing shows, for those who cannot see it.

    Returns
    -------
    str
        SVG.
    """
    first, last = _shown(bars, named, limits)
    bottom = TOP + ROW * max(1, len(bars)) + 4

    def x(year: float) -> float:
        share = (min(max(year, first), last + 1) - first) / (last + 1 - first)
        return round(LEFT + share * (RIGHT - LEFT), 1)

    parts = [
        (
            f'<svg class="timeline" viewBox="0 0 {WIDTH:.0f} {bottom + 34:.0f}" role="img" '
            f'aria-label="{escape(title, quote=True)}" xmlns="http://www.w3.org/2000/svg">'
        )
    ]
    for kind, fill, spans in (("named", "#e4ebe7", named), ("core", "#c4d3cc", core)):
        for begin, end in spans:
            wide = x(end + 1) - x(begin)
            parts.append(
                f'<rect class="{kind}" x="{x(begin)}" y="2" width="{wide:.1f}" '
                f'height="{bottom - 2:.0f}" fill="{fill}"/>'
            )
    for row, bar in enumerate(bars):
        parts += _bar(bar, TOP + ROW * row + ROW / 2, x, limits)
    parts.append(f'<path class="ink thin" d="M{LEFT} {bottom}H{RIGHT}" stroke="#17262b"/>')
    for year in _ticks(first, last):
        parts.append(
            f'<path class="ink thin" d="M{x(year)} {bottom}v6" stroke="#17262b"/>'
            f'<text class="label lower" x="{x(year)}" y="{bottom + 24}" text-anchor="middle" '
            f'font-size="14">{year}</text>'
        )
    return "".join(parts) + "</svg>"


def _bar(bar: Bar, y: float, place: Callable[[float], float], limits: tuple[int, int]) -> list[str]:
    label = bar.label if len(bar.label) <= LONGEST_LABEL else bar.label[: LONGEST_LABEL - 1] + "…"
    kind = "bar odd" if bar.odd else "bar"
    dash = ' stroke-dasharray="5 3"' if bar.odd else ""
    colour = "#a52a1d" if bar.odd else "#17262b"
    parts = [
        (
            f'<text class="label start{" stop" if bar.odd else ""}" x="4" y="{y + 5}" '
            f'font-size="15">{escape(label)}</text>'
        )
    ]
    for begin, end in bar.spans:
        left = place(limits[0] if begin is None else begin)
        right = place((limits[1] if end is None else end) + 1)
        parts.append(
            f'<path class="{kind}" d="M{left} {y}H{right}" stroke="{colour}" '
            f'stroke-width="9" fill="none"{dash}/>'
        )
    return parts


def _shown(
    bars: Sequence[Bar], named: Sequence[Sequence[int]], limits: tuple[int, int]
) -> tuple[int, int]:
    """Choose the years to draw: all that is not open, with a little air, within the limits."""
    years = [year for bar in bars for span in bar.spans for year in span if year is not None]
    years += [year for span in named for year in span]
    years = [y for y in years if limits[0] <= y <= limits[1]] or list(limits)
    return max(limits[0], min(years) - MARGIN_YEARS), min(limits[1], max(years) + MARGIN_YEARS)


def _ticks(first: int, last: int) -> list[int]:
    step = next((s for s in STEPS if (last - first) / s <= TICKS_WANTED), STEPS[-1])
    start = -(-first // step) * step
    return list(range(start, last + 1, step))
