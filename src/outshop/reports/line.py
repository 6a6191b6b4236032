"""A line's plan and profile, and the force along it, as SVG for page and paper."""

import math
from collections.abc import Sequence
from html import escape

import numpy as np

from outshop.formation import walk as walking
from outshop.formation.scene import Scene, Section, Vehicle

WIDTH, PLAN_HEIGHT, PROFILE_HEIGHT, FORCE_HEIGHT = 720.0, 260.0, 120.0, 150.0
LEFT, RIGHT, TOP = 52.0, 12.0, 30.0
ARC_STEP = math.radians(6)  # a curve is drawn as chords of this turn


def plan_svg(line: Sequence[Section], *, title: str, worst: int = 0) -> str:
    """Draw the line from above, every curve turning the same way.

    Parameters
    ----------
    line : sequence of Section
        In running order.
    title : str
        What a screen reader says.
    worst : int
        Section, from 1, drawn as the worst place; 0 for none.
    """
    pieces, x, y, heading = [], 0.0, 0.0, 0.0
    for section in line:
        points = [(x, y)]
        turn = section.length_mm / section.radius_mm if section.radius_mm else 0.0
        steps = max(1, math.ceil(turn / ARC_STEP))
        for _ in range(steps):
            heading += turn / steps / 2
            x += math.cos(heading) * section.length_mm / steps
            y += math.sin(heading) * section.length_mm / steps
            heading += turn / steps / 2
            points.append((x, y))
        pieces.append(points)
    every = np.array([p for points in pieces for p in points])
    low, size = every.min(axis=0), np.ptp(every, axis=0)
    scale = min((WIDTH - 2 * LEFT) / max(size[0], 1), (PLAN_HEIGHT - 2 * TOP) / max(size[1], 1))
    parts = [_open(WIDTH, max(60.0, size[1] * scale + 2 * TOP), title)]
    for number, points in enumerate(pieces, 1):
        at = [((px - low[0]) * scale + LEFT, (py - low[1]) * scale + TOP) for px, py in points]
        path = "M" + "L".join(f"{px:.1f} {py:.1f}" for px, py in at)
        parts.append(f'<path class="{_state(number == worst)}" d="{path}"/>')
        parts.append(f'<circle class="ink thin" cx="{at[0][0]:.1f}" cy="{at[0][1]:.1f}" r="3"/>')
        middle = at[len(at) // 2] if len(at) > 2 else ((at[0][0] + at[1][0]) / 2, at[0][1])
        parts.append(_text(middle[0], middle[1] - 8, str(number)))
    return "".join([*parts, "</svg>"])


def profile_svg(line: Sequence[Section], *, title: str, worst: int = 0) -> str:
    """Draw heights along the line, heights exaggerated to fill the sheet."""
    parts = [_open(WIDTH, PROFILE_HEIGHT + 2 * TOP + 16, title)]
    return "".join([*parts, *_profile(line, worst), "</svg>"])


def force_svg(scene: Scene, train: Sequence[Vehicle], *, title: str, words: tuple[str, str]) -> str:
    """Draw the profile, and below it the force needed against the pull, by place of the head.

    Parameters
    ----------
    scene : Scene
        Line and locomotive.
    train : sequence of Vehicle
        From the engine backwards.
    title : str
        What a screen reader says.
    words : tuple of str
        Labels of the pull and of the force.
    """
    profile = walking.prepare(scene.line, scene.curve_constant)
    places = walking.walk(profile, scene.locomotive, train)
    needed, pull = places.needed_g, scene.locomotive.available_g
    on_line = (places.start / (2 * walking.UNITS)) < profile.length_mm
    worst = int(needed.argmax())
    top = PROFILE_HEIGHT + 2 * TOP + 34
    most = max(float(needed.max()), pull) * 1.08
    width = WIDTH - LEFT - RIGHT

    def across(head: float) -> float:
        return LEFT + width * min(head / (2 * walking.UNITS), profile.length_mm) / profile.length_mm

    def down(force: float) -> float:
        return top + FORCE_HEIGHT * (1 - force / most)

    steps = []
    for begin, end, force in zip(
        places.start[on_line], places.end[on_line], needed[on_line], strict=True
    ):
        steps.append(f"{across(begin):.1f} {down(force):.1f}L{across(end):.1f} {down(force):.1f}")
    at = across((int(places.start[worst]) + int(places.end[worst])) / 2)
    bad = needed[worst] > pull
    return "".join(
        [
            _open(WIDTH, top + FORCE_HEIGHT + 26, title),
            *_profile(scene.line, 0),
            f'<path class="{_state(bad)} thin" d="M{"L".join(steps)}"/>',
            f'<path class="ink thin rail" d="M{LEFT} {down(pull):.1f}H{WIDTH - RIGHT}"/>',
            _text(LEFT + 48, down(pull) - 6, f"{words[0]} {pull:.0f} g"),
            f'<circle class="{_state(bad)}" cx="{at:.1f}" cy="{down(needed[worst]):.1f}" r="5"/>',
            _text(min(max(at, LEFT + 160), WIDTH - 60), top - 8,
                  f"{words[1]} {needed[worst]:.0f} g"),
            f'<path class="ink thin" d="M{LEFT} {top:.1f}v{FORCE_HEIGHT}H{WIDTH - RIGHT}"/>',
            _text(LEFT - 12, top + FORCE_HEIGHT + 4, "0"),
            "</svg>",
        ]
    )  # fmt: skip


def _profile(line: Sequence[Section], worst: int) -> list[str]:
    lengths = np.array([s.length_mm for s in line])
    rises = lengths * np.array([s.grade_permille for s in line]) / 1000
    along = np.concatenate([[0.0], np.cumsum(lengths)])
    height = np.concatenate([[0.0], np.cumsum(rises)])
    span = max(float(np.ptp(height)), 1.0)
    width = WIDTH - LEFT - RIGHT
    parts = []
    for k, section in enumerate(line):
        xs = LEFT + width * along[k : k + 2] / along[-1]
        ys = TOP + PROFILE_HEIGHT * (1 - (height[k : k + 2] - height.min()) / span)
        state = _state(k + 1 == worst)
        parts.append(
            f'<path class="{state}" d="M{xs[0]:.1f} {ys[0]:.1f}L{xs[1]:.1f} {ys[1]:.1f}"/>'
        )
        parts.append(
            f'<path class="ink thin rail" d="M{xs[0]:.1f} {TOP}V{TOP + PROFILE_HEIGHT:.1f}"/>'
        )
        if xs[1] - xs[0] > 34 and section.grade_permille:
            parts.append(_text(float(xs.mean()), float(ys.min()) - 6,
                               f"{section.grade_permille:+g} ‰"))  # fmt: skip
        if xs[1] - xs[0] > 40 and section.radius_mm:
            low = TOP + PROFILE_HEIGHT + 18
            parts.append(_text(float(xs.mean()), low, f"R {section.radius_mm:g}", "lower"))
    return parts


def _state(bad: bool) -> str:
    return "ring stop" if bad else "ink"


def _text(x: float, y: float, words: str, more: str = "") -> str:
    extra = f" {more}" if more else ""
    return f'<text class="label{extra}" x="{x:.1f}" y="{y:.1f}">{escape(words)}</text>'


def _open(width: float, height: float, title: str) -> str:
    return (
        f'<svg viewBox="0 0 {width:.0f} {height:.0f}" role="img" '
        f'aria-label="{escape(title, quote=True)}">'
    )
