"""A line's plan and profile, as SVG for page and paper."""

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, field
from html import escape

import numpy as np

from outshop.formation.scene import Section

WIDTH, PLAN_HEIGHT, PROFILE_HEIGHT = 720.0, 260.0, 110.0
LEFT, RIGHT, TOP = 52.0, 12.0, 30.0
ARC_STEP = math.radians(6)  # a curve is drawn as chords of this turn
BESIDE = 9.0  # how far beside the track a loop, a platform or a number is drawn

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Drawn:
    """What is drawn of a line beside its sections.

    Parameters
    ----------
    sides : sequence of str
        ``left`` or ``right`` for each section; missing ones turn left.
    places : sequence of str
        ``loop``, ``platform`` or nothing for each section.
    worst : collection of int
        Sections, from 1, that ask most.
    chosen : int
        The section at work; 0 for none.
    links : sequence of str
        Where a tap on each section leads.
    names : sequence of str
        What a screen reader calls each link; by default its number.
    """

    sides: Sequence[str] = ()
    places: Sequence[str] = ()
    worst: Collection[int] = field(default=())
    chosen: int = 0
    links: Sequence[str] = ()
    names: Sequence[str] = ()


PLAIN = Drawn()


def plan_svg(line: Sequence[Section], *, title: str, drawn: Drawn = PLAIN) -> str:
    """Draw the line from above, the start marked by a ring.

    Parameters
    ----------
    line : sequence of Section
        In running order.
    title : str
        What a screen reader says.
    drawn : Drawn
        Which way curves turn, what lies beside the track, what is marked.
    """
    pieces = track(line, drawn.sides)
    every = np.array([p for points in pieces for p in points])
    low, size = every.min(axis=0), np.ptp(every, axis=0)
    room = (WIDTH - 2 * LEFT, PLAN_HEIGHT - 2 * TOP)
    scale = min(room[0] / max(size[0], 1.0), room[1] / max(size[1], 1.0))
    left = (WIDTH - size[0] * scale) / 2
    parts = [_open(max(84.0, size[1] * scale + 2 * TOP + 8), title, linked=bool(drawn.links))]
    placed = [[((x - low[0]) * scale + left, (y - low[1]) * scale + TOP) for x, y in points]
              for points in pieces]  # fmt: skip
    parts += [_piece(n, points, drawn) for n, points in enumerate(placed, 1)]
    x, y = placed[0][0]
    parts.append(f'<circle class="ink" cx="{x:.1f}" cy="{y:.1f}" r="6"/>')
    return "".join([*parts, "</svg>"])


def track(line: Sequence[Section], sides: Sequence[str] = ()) -> list[list[Point]]:
    """Give the points of each section in mm, from (0, 0) eastwards; y runs down, as on a sheet."""
    pieces, x, y, heading = [], 0.0, 0.0, 0.0
    for number, section in enumerate(line):
        side = sides[number] if number < len(sides) else "left"
        turn = section.length_mm / section.radius_mm if section.radius_mm else 0.0
        turn = turn if side == "right" else -turn
        points = [(x, y)]
        steps = max(1, math.ceil(abs(turn) / ARC_STEP))
        step = turn / steps
        # the chord of an arc, so that a full circle closes
        chord = section.length_mm / steps
        if step:
            chord *= math.sin(step / 2) / (step / 2)
        for _ in range(steps):
            x += math.cos(heading + step / 2) * chord
            y += math.sin(heading + step / 2) * chord
            heading += step
            points.append((x, y))
        pieces.append(points)
    return pieces


def profile_svg(line: Sequence[Section], *, title: str, drawn: Drawn = PLAIN) -> str:
    """Draw heights along the line, heights exaggerated to fill the sheet."""
    parts = [_open(PROFILE_HEIGHT + 2 * TOP + 22, title, linked=bool(drawn.links))]
    return "".join([*parts, *profile_parts(line, drawn), "</svg>"])


def profile_parts(line: Sequence[Section], drawn: Drawn = PLAIN) -> list[str]:
    """Give the parts of a profile that fill the width of the sheet from its top."""
    lengths = np.array([s.length_mm for s in line])
    rises = lengths * np.array([s.grade_permille for s in line]) / 1000
    along = np.concatenate([[0.0], np.cumsum(lengths)])
    height = np.concatenate([[0.0], np.cumsum(rises)])
    span = max(float(np.ptp(height)), 1.0)
    xs = LEFT + (WIDTH - LEFT - RIGHT) * along / along[-1]
    ys = TOP + PROFILE_HEIGHT * (1 - (height - height.min()) / span)
    bottom = TOP + PROFILE_HEIGHT
    parts = [f'<path class="ink thin rail" d="M{x:.1f} {TOP:.1f}V{bottom:.1f}"/>' for x in xs]
    words: list[str] = []
    for k, section in enumerate(line):
        wide, middle = xs[k + 1] - xs[k], float(xs[k] + xs[k + 1]) / 2
        ends = f"M{xs[k]:.1f} {ys[k]:.1f}L{xs[k + 1]:.1f} {ys[k + 1]:.1f}"
        touch = (
            f'<rect class="touch" x="{xs[k]:.1f}" y="{TOP - 20:.1f}" '
            f'width="{wide:.1f}" height="{PROFILE_HEIGHT + 44:.1f}"/>'
        )
        inner = [touch, f'<path class="{_state(k + 1, drawn)}" d="{ends}"/>']
        if wide > 46 and section.grade_permille:
            high = float(min(ys[k], ys[k + 1]))
            words.append(text(middle, high - 7, f"{section.grade_permille:+g} ‰"))
        if wide > 46 and section.radius_mm:
            words.append(text(middle, bottom + 20, f"R {section.radius_mm:g}", "lower"))
        parts.append(_linked(k + 1, "".join(inner), drawn))
    return [*parts, *words]


def _piece(number: int, points: Sequence[Point], drawn: Drawn) -> str:
    path = _path(points)
    inner = [
        f'<path class="touch" d="{path}"/>',
        f'<path class="{_state(number, drawn)}" d="{path}"/>',
    ]
    place = drawn.places[number - 1] if number <= len(drawn.places) else ""
    if place:
        inner.append(f'<path class="ink thin {place}" d="{_path(_beside(points, -BESIDE))}"/>')
    x, y = points[0]
    inner.append(f'<circle class="ink thin" cx="{x:.1f}" cy="{y:.1f}" r="3"/>')
    (ax, ay), (bx, by) = (points[(len(points) - 1) // 2], points[len(points) // 2])
    if len(points) > 2 and len(points) % 2:
        (ax, ay), (bx, by) = points[len(points) // 2 - 1], points[len(points) // 2 + 1]
    long = math.hypot(bx - ax, by - ay) or 1.0
    away = 17.0
    x, y = (ax + bx) / 2 - (by - ay) / long * away, (ay + by) / 2 + (bx - ax) / long * away
    return _linked(number, "".join(inner), drawn) + text(x, y + 5, str(number))


def _beside(points: Sequence[Point], away: float) -> list[Point]:
    """Give a path beside another, cut short at both ends as a loop or platform is."""
    at = np.array(points)
    along = np.gradient(at, axis=0)
    normal = np.stack([-along[:, 1], along[:, 0]], axis=1)
    normal /= np.maximum(np.hypot(normal[:, 0], normal[:, 1]), 1e-9)[:, None]
    moved = at + away * normal
    if len(moved) == 2:
        moved = moved[0] + (moved[1] - moved[0]) * np.array([[0.06], [0.94]])
    return [(float(x), float(y)) for x, y in moved]


def _path(points: Sequence[Point]) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in points)


def _linked(number: int, inner: str, drawn: Drawn) -> str:
    if number > len(drawn.links):
        return inner
    current = ' aria-current="true"' if number == drawn.chosen else ""
    link = escape(drawn.links[number - 1], quote=True)
    name = escape(drawn.names[number - 1] if drawn.names else str(number), quote=True)
    return f'<a href="{link}" aria-label="{name}"{current}>{inner}</a>'


def _state(number: int, drawn: Drawn) -> str:
    if number in drawn.worst:
        return "ring stop"
    return "ring chosen" if number == drawn.chosen else "ink"


def text(x: float, y: float, words: str, more: str = "") -> str:
    """Write a label, its middle at ``x``."""
    extra = f" {more}" if more else ""
    return f'<text class="label{extra}" x="{x:.1f}" y="{y:.1f}">{escape(words)}</text>'


def _open(height: float, title: str, *, linked: bool = False) -> str:
    return opening(height, title, "group" if linked else "img")


def opening(height: float, title: str, role: str = "img") -> str:
    """Open a sheet of the usual width."""
    return (
        f'<svg class="line" viewBox="0 0 {WIDTH:.0f} {height:.0f}" role="{role}" '
        f'aria-label="{escape(title, quote=True)}">'
    )
