"""A train drawn to scale from simple side views, as SVG; the drawing sheet's classes give ink."""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from outshop.formation.kinds import family

ROW_MM = 620.0  # model length on one row of the sheet; longer trains go on below
RAIL_Y, ROW_HEIGHT = 64.0, 92.0  # rail line within a row, and height of a row, in model mm
WHEEL_MM = 5.5  # radius of a drawn wheel
LOW, TALL = 22.0, 42.0  # height of an open wagon's side and of a coach over rail


@dataclass(frozen=True, slots=True)
class Body:
    """One vehicle to draw: name, kind, length over buffers in mm, and where a tap leads."""

    name: str
    kind: str
    length_mm: float
    link: str = ""
    mark: str = ""


def train_svg(bodies: Sequence[Body], *, title: str) -> str:
    """Draw a train from its engine (kind ``engine``) backwards.

    Parameters
    ----------
    bodies : sequence of Body
        The engine first; ``mark`` is a state class such as ``stop``.
    title : str
        What a screen reader says.

    Returns
    -------
    str
        SVG without style of its own; one unit is one millimetre of the model.
    """
    rows: list[list[tuple[int, Body]]] = [[]]
    width = 0.0
    for number, body in enumerate(bodies):
        if rows[-1] and width + body.length_mm > ROW_MM:
            rows.append([])
            width = 0.0
        rows[-1].append((number, body))
        width += body.length_mm
    wide = max(ROW_MM, *(sum(b.length_mm for _, b in row) for row in rows))
    size = f'viewBox="0 0 {wide + 4:.0f} {ROW_HEIGHT * len(rows):.0f}"'
    parts = [f'<svg {size} role="img" aria-label="{escape(title, quote=True)}">']
    for k, row in enumerate(rows):
        x, y = 2.0, k * ROW_HEIGHT + RAIL_Y
        end = x + sum(b.length_mm for _, b in row)
        parts.append(f'<path class="ink thin rail" d="M0 {y:.1f}H{end:.1f}"/>')
        for number, body in row:
            parts.append(_vehicle(number, body, x, y))
            x += body.length_mm
    return "".join([*parts, "</svg>"])


def _vehicle(number: int, body: Body, x: float, rail: float) -> str:
    length = body.length_mm
    shape = _shape(body.kind, x + 3, length - 6, rail)
    state = f" {escape(body.mark, quote=True)}" if body.mark else ""
    label = (
        f'<text class="label{state}" x="{x + length / 2:.1f}" y="{rail + 22:.1f}">'
        f"{number or ''}</text>"
    )
    touch = (
        f'<rect class="touch" x="{x:.1f}" y="{rail - 60:.1f}" width="{length:.1f}" height="86"/>'
    )
    inner = (
        f"<title>{escape(body.name)}, {length:g} mm</title>{touch}"
        f'<path class="ink" d="{shape}"/>{label}'
    )
    if not body.link:
        return f"<g>{inner}</g>"
    return (
        f'<a href="{escape(body.link, quote=True)}" '
        f'aria-label="{escape(body.name, quote=True)}">{inner}</a>'
    )


def _shape(kind: str, x: float, length: float, rail: float) -> str:
    floor = rail - 2.2 * WHEEL_MM
    end = x + length
    couplings = f"M{x - 3:.1f} {floor:.1f}h3M{end:.1f} {floor:.1f}h3"
    return couplings + _wheels(kind, x, length, rail) + _upper(kind, x, end, floor, rail)


def _wheels(kind: str, x: float, length: float, rail: float) -> str:
    four = family(kind) == "coach" and length > 150
    if kind == "engine":
        places = [x + length * share for share in (0.2, 0.4, 0.6, 0.82)]
    elif four:
        places = [x + 14, x + 34, x + length - 34, x + length - 14]
    else:
        places = [x + length * 0.2, x + length * 0.8]
    return "".join(_circle(place, rail - WHEEL_MM, WHEEL_MM) for place in places)


def _circle(x: float, y: float, r: float) -> str:
    return f"M{x - r:.1f} {y:.1f}a{r} {r} 0 1 0 {2 * r} 0a{r} {r} 0 1 0 {-2 * r} 0"


def _upper(kind: str, x: float, end: float, floor: float, rail: float) -> str:
    group = family(kind)
    top = rail - TALL
    box = f"M{x:.1f} {floor:.1f}V{top:.1f}H{end:.1f}V{floor:.1f}Z"
    roof = f"M{x - 2:.1f} {top:.1f}Q{(x + end) / 2:.1f} {top - 8:.1f} {end + 2:.1f} {top:.1f}"
    if kind == "engine":
        cab = end - (end - x) * 0.3
        return (
            f"M{x:.1f} {floor:.1f}V{rail - 34:.1f}H{cab:.1f}V{rail - 46:.1f}H{end:.1f}V{floor:.1f}Z"
            f"M{x + 8:.1f} {rail - 34:.1f}v-14h8v14"
            f"M{cab + 6:.1f} {rail - 40:.1f}h{(end - cab) * 0.5:.1f}v10h{-(end - cab) * 0.5:.1f}z"
        )
    if group == "coach":
        return box + roof + _windows(x, end, rail - 35)
    if kind == "tank":
        return (
            f"M{x:.1f} {floor:.1f}H{end:.1f}"
            f"M{x + 10:.1f} {rail - 36:.1f}H{end - 10:.1f}a10 10 0 0 1 0 20H{x + 10:.1f}"
            f"a10 10 0 0 1 0 -20M{(x + end) / 2 - 5:.1f} {rail - 36:.1f}v-5h10v5"
        )
    if kind in {"flat", "timber", "container"}:
        stakes = "".join(
            f"M{x + (end - x) * share:.1f} {floor:.1f}v-10" for share in (0.1, 0.35, 0.65, 0.9)
        )
        return f"M{x:.1f} {floor:.1f}v-4H{end:.1f}v4Z" + stakes
    if kind in {"open", "stake", "hopper"}:
        return f"M{x:.1f} {floor:.1f}V{floor - LOW + 4:.1f}H{end:.1f}V{floor:.1f}Z"
    middle = (x + end) / 2
    door = f"M{middle - 9:.1f} {floor:.1f}V{top + 6:.1f}h18V{floor:.1f}"
    cabin = f"M{x:.1f} {top:.1f}v-10h16v10" if group == "brake" else ""
    return box + roof + door + cabin


def _windows(x: float, end: float, y: float) -> str:
    count = max(2, int((end - x) // 26))
    pitch = (end - x) / count
    return "".join(f"M{x + (k + 0.25) * pitch:.1f} {y:.1f}h{pitch / 2:.1f}v9h{-pitch / 2:.1f}z"
                   for k in range(count))  # fmt: skip
