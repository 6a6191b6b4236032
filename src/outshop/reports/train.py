"""A train from the side, to scale, as SVG for page and paper."""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from textwrap import wrap

from outshop.reports.sides import GLYPH_MM, Side, side

ROW_MM = 500.0  # model length on one row of the sheet; longer trains go on below
RAIL_Y = 56.0  # rail line within a row, in model mm
TOP_Y = 4.0  # of what a finger touches
NAME_LINES = 3  # below a vehicle; a longer name is cut
LINE_MM = 14.5  # one such line on a phone, where letters are largest
ROW_HEIGHT = RAIL_Y + (NAME_LINES + 1.2) * LINE_MM


@dataclass(frozen=True, slots=True)
class Body:
    """One vehicle to draw.

    Parameters
    ----------
    name, kind : str
        What it is called, and its kind; ``engine`` for a steam engine, ``engine-electric``,
        ``engine-diesel`` or ``engine-railcar`` for another.
    length_mm : float
        Over buffers.
    axles : int
        Number of axles; 0 for the usual number.
    turned : bool
        It stands the other way round.
    link : str
        Where a tap leads.
    mark : str
        State class of its number, such as ``stop``.
    """

    name: str
    kind: str
    length_mm: float
    axles: int = 0
    turned: bool = False
    link: str = ""
    mark: str = ""


def train_svg(
    bodies: Sequence[Body], *, title: str, chosen: int = 0, row_mm: float = ROW_MM
) -> str:
    """Draw a train from its engine backwards, names and lengths below.

    Parameters
    ----------
    bodies : sequence of Body
        The engine first.
    title : str
        What a screen reader says.
    chosen : int
        Place behind the engine, from 1, that is shown as chosen; 0 for none.
    row_mm : float
        Model length on one row.

    Returns
    -------
    str
        SVG without style of its own; one unit is one millimetre of the model.
    """
    rows: list[list[tuple[int, Body]]] = [[]]
    width = 0.0
    for number, body in enumerate(bodies):
        if rows[-1] and width + body.length_mm > row_mm:
            rows.append([])
            width = 0.0
        rows[-1].append((number, body))
        width += body.length_mm
    wide = max(row_mm, *(sum(b.length_mm for _, b in row) for row in rows))
    size = f'viewBox="0 0 {wide + 4:.0f} {ROW_HEIGHT * len(rows):.0f}"'
    role = "group" if any(b.link for b in bodies) else "img"
    parts = [f'<svg class="train" {size} role="{role}" aria-label="{escape(title, quote=True)}">']
    for k, row in enumerate(rows):
        x, y = 2.0, k * ROW_HEIGHT + RAIL_Y
        end = x + sum(b.length_mm for _, b in row)
        parts.append(f'<path class="ink thin rail" d="M0 {y:.1f}H{end + 2:.1f}"/>')
        for number, body in row:
            parts.append(_vehicle(number, body, x, y, number == chosen and number > 0))
            x += body.length_mm
    return "".join([*parts, "</svg>"])


def _vehicle(number: int, body: Body, x: float, rail: float, chosen: bool) -> str:
    length = body.length_mm
    drawn = side(Side(body.kind, x + 2.5, x + length - 2.5, rail, body.axles))
    mirror = f' transform="matrix(-1 0 0 1 {2 * x + length:.1f} 0)"' if body.turned else ""
    touch = (
        f'<rect class="touch" x="{x:.1f}" y="{rail - RAIL_Y + TOP_Y:.1f}" '
        f'width="{length:.1f}" height="{ROW_HEIGHT - TOP_Y - 2:.1f}"/>'
    )
    inner = f"<title>{escape(body.name)}, {length:g} mm</title>{touch}<g{mirror}>{drawn}</g>"
    words = _words(number, body, x + length / 2, rail)
    if not body.link:
        return f"<g>{inner}</g>{words}"
    current = ' aria-current="true"' if chosen else ""
    said = f"{number}: {body.name}, {length:g} mm" if number else body.name
    # the words stand beside the link, whose name tells them uncut; the touch lies under them
    return (
        f'<a href="{escape(body.link, quote=True)}" '
        f'aria-label="{escape(said, quote=True)}"{current}>{inner}</a>{words}'
    )


def _words(number: int, body: Body, middle: float, rail: float) -> str:
    """Write number, name and length below a vehicle, the name cut to its length."""
    room = max(3, int(body.length_mm / GLYPH_MM))
    name = f"{number} {body.name}" if number else body.name
    lines = wrap(name, room, max_lines=NAME_LINES, placeholder="…", break_on_hyphens=False)
    mark = f" {escape(body.mark, quote=True)}" if body.mark else ""
    spans = "".join(f'<tspan x="{middle:.1f}" dy="1.15em">{escape(line)}</tspan>' for line in lines)
    length = f'<tspan class="length" x="{middle:.1f}" dy="1.15em">{body.length_mm:g} mm</tspan>'
    return f'<text class="label{mark}" y="{rail + 3:.1f}">{spans}{length}</text>'
