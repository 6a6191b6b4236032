"""Axes, runs and named tones over a spectrogram picture, as SVG text."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from html import escape
from math import log
from statistics import fmean

WIDTH, HEIGHT = 640.0, 352.0
LEFT, RIGHT, TOP, BOTTOM = 46.0, 618.0, 24.0, 322.0
TICKS_HZ = (50, 100, 200, 500, 1000, 2000, 5000)
STEPS_S = (1, 2, 5, 10, 20, 30, 60, 120, 300, 600, 1200, 3600)
MOST_TICKS = 7
GAP_S = 0.5  # a track with a longer hole is drawn as two lines
MOST_POINTS = 120  # a swing within the wheel turn would fill a band and hide the tone
LABEL_GAP = 18.0  # between the numbers at the right edge


@dataclass(frozen=True, slots=True)
class ToneLine:
    """A named tone over time.

    Parameters
    ----------
    name : str
    points : sequence of (float, float)
        Seconds and Hz, in order of time.
    fixed : bool
        Whether it stays where it is while the speed moves.
    """

    name: str
    points: Sequence[tuple[float, float]]
    fixed: bool = False


@dataclass(frozen=True, slots=True)
class RunSpan:
    """A stretch that can be jumped to: seconds, what it is, and an address that plays it."""

    start_s: float
    end_s: float
    name: str
    address: str


def spectrogram_sheet(
    picture: str,
    duration_s: float,
    limits_hz: tuple[float, float],
    tones: Sequence[ToneLine],
    runs: Sequence[RunSpan],
    title: str,
) -> str:
    """Draw the sheet: the picture with axes, numbered tones, runs, and a cursor at rest.

    Parameters
    ----------
    picture : str
        Address of the picture: time along, log frequency up.
    duration_s : float
        Seconds that the picture's width stands for.
    limits_hz : (float, float)
        Frequencies of its lower and upper edge.
    tones : sequence of ToneLine
        Numbered from 1 as given.
    runs : sequence of RunSpan
        Stretches along the top.
    title : str
        What it shows, for those who cannot see it.

    Returns
    -------
    str
        SVG.
    """
    frame = _Frame(max(duration_s, 1e-3), *limits_hz)
    head = (
        f'<svg class="spectrogram" viewBox="0 0 {WIDTH:.0f} {HEIGHT:.0f}" role="group" '
        f'aria-label="{escape(title, quote=True)}" xmlns="http://www.w3.org/2000/svg" '
        f'data-left="{LEFT}" data-right="{RIGHT}" data-duration="{duration_s:.3f}">'
        f'<image class="spectrum" href="{escape(picture, quote=True)}" x="{LEFT}" y="{TOP}" '
        f'width="{RIGHT - LEFT}" height="{BOTTOM - TOP}" preserveAspectRatio="none"/>'
        f'<rect class="ink thin" x="{LEFT}" y="{TOP}" width="{RIGHT - LEFT}" '
        f'height="{BOTTOM - TOP}"/>'
    )
    parts = [head, *_axes(frame), *_tones(frame, tones), *_runs(frame, runs)]
    parts.append(
        f'<line class="cursor" x1="{LEFT}" x2="{LEFT}" y1="{TOP}" y2="{BOTTOM}" '
        'visibility="hidden"/></svg>'
    )
    return "".join(parts)


@dataclass(frozen=True, slots=True)
class _Frame:
    duration_s: float
    lowest_hz: float
    highest_hz: float

    def x(self, t_s: float) -> float:
        share = min(max(t_s / self.duration_s, 0.0), 1.0)
        return round(LEFT + share * (RIGHT - LEFT), 1)

    def y(self, hz: float) -> float:
        share = log(hz / self.lowest_hz) / log(self.highest_hz / self.lowest_hz)
        return round(BOTTOM - share * (BOTTOM - TOP), 1)

    def shows(self, hz: float) -> bool:
        return self.lowest_hz <= hz <= self.highest_hz


def _axes(frame: _Frame) -> Iterator[str]:
    for hz in TICKS_HZ:
        if frame.shows(hz):
            y = frame.y(hz)
            word = f"{hz // 1000}k" if hz >= 1000 else str(hz)
            yield f'<line class="ink thin" x1="{LEFT - 5}" x2="{LEFT}" y1="{y}" y2="{y}"/>'
            yield f'<text class="label lower end" x="{LEFT - 8}" y="{y + 5}">{word}</text>'
    yield f'<text class="label lower end" x="{LEFT - 8}" y="{TOP - 8}">Hz</text>'
    step = next((s for s in STEPS_S if frame.duration_s / s <= MOST_TICKS), STEPS_S[-1])
    for moment in range(0, int(frame.duration_s) + 1, step):
        x = frame.x(moment)
        yield f'<line class="ink thin" x1="{x}" x2="{x}" y1="{BOTTOM}" y2="{BOTTOM + 5}"/>'
        yield (
            f'<text class="label lower" x="{x}" y="{BOTTOM + 22}">'
            f"{moment // 60}:{moment % 60:02d}</text>"
        )


def _tones(frame: _Frame, tones: Sequence[ToneLine]) -> Iterator[str]:
    ends = {}
    for number, tone in enumerate(tones, 1):
        seen = [(t, hz) for t, hz in tone.points if frame.shows(hz)]
        if not seen:
            continue
        kind = "tone fixed" if tone.fixed else "tone"
        said = f"<title>{number}: {escape(tone.name)}</title>"
        for part in _unbroken(seen):
            drawn = " ".join(f"{frame.x(t)},{frame.y(hz)}" for t, hz in _thinned(part))
            yield f'<polyline class="{kind}" points="{drawn}">{said}</polyline>'
        ends[number] = frame.y(seen[-1][1])
    for number, y in _apart(ends).items():
        yield f'<text class="label start" x="{RIGHT + 4}" y="{y + 5}">{number}</text>'


def _unbroken(points: Sequence[tuple[float, float]]) -> Iterator[list[tuple[float, float]]]:
    part: list[tuple[float, float]] = []
    fixed = len(points) == 2
    for point in points:
        if part and not fixed and point[0] - part[-1][0] > GAP_S:
            yield part
            part = []
        part.append(point)
    yield part


def _thinned(points: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """Mean of neighbours, so that a line of many points stays a line."""
    step = -(-len(points) // MOST_POINTS)
    if step == 1:
        return points
    parts = [points[i : i + step] for i in range(0, len(points), step)]
    means = [(fmean(t for t, _ in part), fmean(hz for _, hz in part)) for part in parts]
    return [(points[0][0], means[0][1]), *means, (points[-1][0], means[-1][1])]


def _apart(ends: Mapping[int, float]) -> dict[int, float]:
    """Push numbers apart that would lie on each other, highest tone first."""
    placed, last = {}, float("-inf")
    for number, y in sorted(ends.items(), key=lambda pair: pair[1]):
        last = max(y, last + LABEL_GAP)
        placed[number] = last
    return placed


def _runs(frame: _Frame, runs: Sequence[RunSpan]) -> Iterator[str]:
    for run in runs:
        x, end = frame.x(run.start_s), frame.x(run.end_s)
        yield (
            f'<a href="{escape(run.address, quote=True)}" data-seek="{run.start_s:.2f}" '
            f'aria-label="{escape(run.name, quote=True)}"><title>{escape(run.name)}</title>'
            f'<rect class="touch" x="{x}" y="{TOP - 20}" width="{max(end - x, 1):.1f}" '
            f'height="18"/><line class="run" x1="{x}" x2="{end}" y1="{TOP - 5}" '
            f'y2="{TOP - 5}"/></a>'
        )
