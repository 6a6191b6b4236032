"""The force that a train needs along a line against the engine's pull, as SVG."""

from collections.abc import Sequence
from dataclasses import dataclass

from outshop.formation import walk as walking
from outshop.formation.haul import haul_over
from outshop.formation.scene import Scene, Vehicle
from outshop.reports.line import (
    LEFT,
    PROFILE_HEIGHT,
    RIGHT,
    TOP,
    WIDTH,
    Drawn,
    opening,
    profile_parts,
    text,
)

FORCE_HEIGHT = 150.0
GAP = 34.0  # between the profile and the forces


@dataclass(frozen=True, slots=True)
class Words:
    """Labels of the drawing; ``left`` is the word after a per cent of the pull."""

    pull: str
    needs: str
    left: str


@dataclass(frozen=True, slots=True)
class _Axes:
    """Where forces stand on the sheet."""

    length: float
    most: float
    top: float

    def across(self, head: float) -> float:
        """Place of a head, in half units of the walk, held to the line."""
        share = min(head / (2 * walking.UNITS), self.length) / self.length
        return LEFT + (WIDTH - LEFT - RIGHT) * share

    def down(self, force: float) -> float:
        return self.top + FORCE_HEIGHT * (1 - max(force, 0.0) / self.most)


def force_svg(
    scene: Scene,
    train: Sequence[Vehicle],
    *,
    title: str,
    words: Words,
    before: Sequence[Vehicle] | None = None,
) -> str:
    """Draw the profile, and below it force and pull by place of the head.

    The space between the two is what is left of the pull; the least share of it is written below
    each section that has room for it.

    Parameters
    ----------
    scene : Scene
        Line and locomotive.
    train : sequence of Vehicle
        From the engine backwards.
    title : str
        What a screen reader says.
    words : Words
        Labels.
    before : sequence of Vehicle, optional
        The train as it stood before a change; drawn dashed.
    """
    profile = walking.prepare(scene.line, scene.curve_constant)
    places = walking.walk(profile, scene.locomotive, train)
    old = None if before is None else walking.walk(profile, scene.locomotive, before)
    pull = scene.locomotive.available_g
    highest = max(float(places.needed_g.max()), pull, float(old.needed_g.max()) if old else 0.0)
    axes = _Axes(profile.length_mm, highest * 1.08, PROFILE_HEIGHT + 2 * TOP + GAP)
    hardest = haul_over(profile, scene.locomotive, tuple(train)).section
    worst = int(places.needed_g.argmax())
    needed = float(places.needed_g[worst])
    state = "ring stop" if needed > pull + 1e-9 else "ink"
    at = axes.across((int(places.start[worst]) + int(places.end[worst])) / 2)
    steps, bottom = _steps(places, axes), axes.top + FORCE_HEIGHT
    level = axes.down(pull)
    share = f"{words.needs} {needed:.0f} g, {100 * (pull - needed) / pull:.0f} % {words.left}"
    parts = [
        opening(bottom + 26, title),
        *profile_parts(scene.line, Drawn(worst=(hardest,))),
        f'<path class="spare" d="M{LEFT} {level:.1f}L{steps}'
        f'L{WIDTH - RIGHT:.1f} {level:.1f}Z"/>' if needed <= pull else "",
        f'<path class="ink thin was" d="M{_steps(old, axes)}"/>' if old else "",
        f'<path class="{state} thin" d="M{steps}"/>',
        f'<path class="ink thin rail" d="M{LEFT} {level:.1f}H{WIDTH - RIGHT}"/>',
        text(LEFT + 6, level - 7, f"{words.pull} {pull:.0f} g", "start"),
        f'<circle class="{state}" cx="{at:.1f}" cy="{axes.down(needed):.1f}" r="5"/>',
        text(min(max(at, LEFT + 190), WIDTH - 120), axes.top - 12, share),
        f'<path class="ink thin" d="M{LEFT} {axes.top:.1f}v{FORCE_HEIGHT}H{WIDTH - RIGHT}"/>',
        text(LEFT - 12, bottom + 4, "0"),
        *_margins(profile, places, pull, axes),
    ]  # fmt: skip
    return "".join([*parts, "</svg>"])


def _steps(places: walking.Places, axes: _Axes) -> str:
    on_line = places.start / (2 * walking.UNITS) < axes.length
    return "L".join(
        f"{axes.across(begin):.1f} {axes.down(force):.1f}L{axes.across(end):.1f} "
        f"{axes.down(force):.1f}"
        for begin, end, force in zip(
            places.start[on_line], places.end[on_line], places.needed_g[on_line], strict=True
        )
    )


def margins(profile: walking.Profile, places: walking.Places, pull: float) -> list[float]:
    """Give the least share of the pull left, per cent, while the head is in each section."""
    found = []
    for begin, end in zip(profile.borders[:-1], profile.borders[1:], strict=True):
        inside = (places.start < end) & (places.end > begin)
        found.append(100 * (pull - float(places.needed_g[inside].max())) / pull)
    return found


def _margins(
    profile: walking.Profile, places: walking.Places, pull: float, axes: _Axes
) -> list[str]:
    parts = []
    shares = margins(profile, places, pull)
    for begin, end, share in zip(profile.borders[:-1], profile.borders[1:], shares, strict=True):
        left, right = axes.across(float(begin)), axes.across(float(end))
        if right - left > 52:
            low = axes.top + FORCE_HEIGHT + 20
            mark = "lower" if share >= 0 else "stop"
            parts.append(text((left + right) / 2, low, f"{share:.0f} %", mark))
    return parts
