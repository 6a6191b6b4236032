"""The wheel-turn rose: loudness over one turn of the wheel, as a polar SVG drawing."""

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from math import cos, pi, sin

SIDE = 320.0
MIDDLE, MEAN, MOST = SIDE / 2, 78.0, 124.0  # where, radius of the mean, largest radius
LEAST_SPAN = 0.15  # a change this small must not fill the drawing; ours
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWX"


@dataclass(frozen=True, slots=True)
class Bump:
    """A place in the turn that is louder turn after turn.

    Parameters
    ----------
    angle_deg : float
        From the start of the steady run, in the sense of turning.
    said : str
        What is known of it.
    """

    angle_deg: float
    said: str


def turn_rose(envelope: Sequence[float], bumps: Sequence[Bump], title: str) -> str:
    """Draw loudness over the wheel turn around a circle that is the mean.

    Parameters
    ----------
    envelope : sequence of float
        Loudness in equal steps of the turn, mean 1.
    bumps : sequence of Bump
        Marked outside, lettered from A as given.
    title : str
        What it shows, for those who cannot see it.

    Returns
    -------
    str
        SVG; empty without an envelope.
    """
    if not envelope:
        return ""
    span = max(LEAST_SPAN, *(abs(value - 1) for value in envelope))
    count = len(envelope)
    points = [
        _point((i + 0.5) * 360 / count, MEAN * (1 + 0.5 * (value - 1) / span))
        for i, value in enumerate(envelope)
    ]
    drawn = " ".join(f"{x},{y}" for x, y in points)
    parts = [
        (
            f'<svg class="rose" viewBox="0 0 {SIDE:.0f} {SIDE:.0f}" role="img" '
            f'aria-label="{escape(title, quote=True)}" xmlns="http://www.w3.org/2000/svg">'
        ),
        f'<circle class="ink thin rail" cx="{MIDDLE}" cy="{MIDDLE}" r="{MEAN}"/>',
        *(_spoke(angle) for angle in (0, 90, 180, 270)),
        f'<polygon class="petal" points="{drawn}"/>',
        *(_mark(letter, bump) for letter, bump in zip(LETTERS, bumps, strict=False)),
    ]
    return "".join(parts) + "</svg>"


def _point(angle_deg: float, radius: float) -> tuple[float, float]:
    """Nought is up, angles run clockwise."""
    turn = angle_deg * pi / 180
    return round(MIDDLE + radius * sin(turn), 1), round(MIDDLE - radius * cos(turn), 1)


def _spoke(angle: int) -> str:
    x, y = _point(angle, 14)
    far_x, far_y = _point(angle, MOST)
    label_x, label_y = _point(angle, MOST + 20)
    return (
        f'<line class="ink thin rail" x1="{x}" y1="{y}" x2="{far_x}" y2="{far_y}"/>'
        f'<text class="label lower" x="{label_x}" y="{label_y + 5}">{angle}°</text>'
    )


def _mark(letter: str, bump: Bump) -> str:
    x, y = _point(bump.angle_deg, MEAN * 1.45)
    label_x, label_y = _point(bump.angle_deg, MEAN * 1.45 + 18)
    return (
        f"<g><title>{escape(letter)}: {escape(bump.said)}</title>"
        f'<circle class="bump" cx="{x}" cy="{y}" r="6"/>'
        f'<text class="label watch" x="{label_x}" y="{label_y + 5}">{escape(letter)}</text></g>'
    )
