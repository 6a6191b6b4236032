"""Drawings of the meter page: speed over current of a motor, and the armature's coils."""

import math
from collections.abc import Callable, Mapping, Sequence
from html import escape

WIDTH, HEIGHT = 460.0, 280.0
LEFT, RIGHT, TOP, BOTTOM = 58.0, 16.0, 26.0, 46.0
RADIUS = 92.0


def speed_lines(
    curves: Mapping[float, Sequence[tuple[float, float]]],
    points: Sequence[tuple[float, float, float]],
    light_current: float | None = None,
) -> str:
    """Draw speed over current: one falling curve a voltage, the readings as marks.

    Parameters
    ----------
    curves : mapping of float to sequence of (current, speed)
        Voltage to the model's curve, V, A and turns a second; a straight line needs its ends.
    points : sequence of (voltage, current, speed)
        Readings; held points lie on the current axis.
    light_current : float, optional
        Drawn as a dashed line, A.

    Returns
    -------
    str
        One SVG; colours come from the page's style sheet by class.
    """
    drawn = [spot for curve in curves.values() for spot in curve]
    most_a = 1.08 * max([a for a, _ in drawn] + [p[1] for p in points])
    most_n = 1.12 * max([n for _, n in drawn] + [p[2] for p in points])

    def at(amps: float, turns: float) -> tuple[float, float]:
        x = LEFT + amps / most_a * (WIDTH - LEFT - RIGHT)
        return x, HEIGHT - BOTTOM - turns / most_n * (HEIGHT - TOP - BOTTOM)

    parts = [_axes(most_a, most_n, at)]
    for volts in sorted(curves):
        spots = [at(amps, turns) for amps, turns in curves[volts]]
        path = "L".join(f"{x:.1f} {y:.1f}" for x, y in spots)
        parts.append(f'<path class="ink thin" d="M{path}"/>')
        parts.append(_text(spots[0][0] + 6, spots[0][1] - 4, f"{volts:g} V", "label start"))
    if light_current is not None:
        x, y = at(light_current, 0)
        parts.append(
            f'<path class="ink thin rail" stroke-dasharray="5 4" d="M{x:.1f} {y:.1f}V{TOP}"/>'
        )
    parts += [_reading(at(amps, turns), volts, amps, turns) for volts, amps, turns in points]
    said = f"Speed over current at {', '.join(f'{v:g}' for v in sorted(curves))} volts"
    return _svg(WIDTH, HEIGHT, said, parts)


def _reading(spot: tuple[float, float], volts: float, amps: float, turns: float) -> str:
    x, y = spot
    name = f"{volts:g} V, {amps:.3g} A, " + (f"{turns:.3g} turns a second" if turns else "held")
    title = f"<title>{escape(name)}</title>"
    if turns:
        return f'<circle class="ring good" cx="{x:.1f}" cy="{y:.1f}" r="5.5">{title}</circle>'
    box = f'x="{x - 5:.1f}" y="{y - 5:.1f}" width="10" height="10"'
    return f'<rect class="ring fault" {box}>{title}</rect>'


def _axes(most_a: float, most_n: float, at: Callable[[float, float], tuple[float, float]]) -> str:
    x0, y0 = at(0, 0)
    x1, _ = at(most_a, 0)
    _, y1 = at(0, most_n)
    parts = [f'<path class="ink thin rail" d="M{x0:.1f} {y1:.1f}V{y0:.1f}H{x1:.1f}"/>']
    for value in _ticks(most_a):
        x, y = at(value, 0)
        parts.append(_text(x, y + 21, f"{value:g}", "label lower"))
    for value in _ticks(most_n):
        _, y = at(0, value)
        parts.append(_text(LEFT - 22, y + 5, f"{value:g}", "label lower"))
    parts.append(_text((x0 + x1) / 2, HEIGHT - 8, "current, A", "label lower"))
    parts.append(_text(LEFT - 48, 16, "turns a second", "label lower start"))
    return "".join(parts)


def _ticks(most: float) -> list[float]:
    raw = most / 4
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(m * power for m in (1, 2, 5, 10) if m * power >= raw)
    return [round(step * k, 10) for k in range(int(most / step) + 1)]


def armature(labels: Sequence[str], suspects: Sequence[int], connection: str) -> str:
    """Draw the coils of an armature, ring or star, suspects marked.

    Parameters
    ----------
    labels : sequence of str
        What to write at each coil, coil 1 first.
    suspects : sequence of int
        Coil numbers from 1.
    connection : str
        ``delta`` or ``star``.
    """
    n = len(labels)
    centre_x, centre_y = WIDTH / 2, 150.0
    spots = [
        (
            centre_x + RADIUS * math.sin(2 * math.pi * k / n),
            centre_y - RADIUS * math.cos(2 * math.pi * k / n),
        )
        for k in range(n)
    ]
    parts = []
    for k, label in enumerate(labels):
        ends = (spots[k], spots[(k + 1) % n] if connection == "delta" else (centre_x, centre_y))
        bad = k + 1 in suspects
        parts.append(_coil(*ends, bad=bad))
        mid = [(a + b) / 2 for a, b in zip(*ends, strict=True)]
        away = math.hypot(mid[0] - centre_x, mid[1] - centre_y) or 1.0
        outer = 1 + 36 / away if connection == "delta" else 1.0
        x = centre_x + (mid[0] - centre_x) * outer
        y = centre_y + (mid[1] - centre_y) * outer
        if connection == "star":
            x, y = (
                x + 26 * (spots[k][1] - centre_y) / RADIUS,
                y - 26 * (spots[k][0] - centre_x) / RADIUS,
            )
        grave = "label stop" if bad else "label"
        parts.append(_text(x, y + 5, f"{k + 1}: {label}", grave))
    for k, (x, y) in enumerate(spots):
        parts.append(f'<circle class="ink" cx="{x:.1f}" cy="{y:.1f}" r="5"/>')
        if connection == "delta":
            parts.append(
                _text(
                    centre_x + (x - centre_x) * 1.2,
                    centre_y + (y - centre_y) * 1.2 + 5,
                    f"s{k + 1}",
                    "label lower",
                )
            )
    return _svg(WIDTH, 310, f"Armature, {connection}, {n} segments", parts)


def _coil(start: tuple[float, float], end: tuple[float, float], *, bad: bool) -> str:
    """Draw a coil as a zigzag, the resistor of old wiring plans."""
    (x1, y1), (x2, y2) = start, end
    along = ((x2 - x1), (y2 - y1))
    across = (-along[1], along[0])
    size = math.hypot(*along)
    steps = []
    for share, side in ((0.2, 0), *((0.25 + 0.1 * i, (-1) ** i) for i in range(6)), (0.8, 0)):
        off = 7 * side / size
        steps.append(
            f"L{x1 + along[0] * share + across[0] * off:.1f} "
            f"{y1 + along[1] * share + across[1] * off:.1f}"
        )
    mark = "ring stop" if bad else "ink"
    return f'<path class="{mark}" d="M{x1:.1f} {y1:.1f}{"".join(steps)}L{x2:.1f} {y2:.1f}"/>'


def _text(x: float, y: float, words: str, mark: str) -> str:
    return f'<text class="{mark}" x="{x:.1f}" y="{y:.1f}">{escape(words)}</text>'


def _svg(width: float, height: float, said: str, parts: Sequence[str]) -> str:
    return (
        f'<svg viewBox="0 0 {width:g} {height:g}" role="img" aria-label="{escape(said)}">'
        f"{''.join(parts)}</svg>"
    )
