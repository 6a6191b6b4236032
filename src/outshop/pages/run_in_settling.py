"""How far a run-in has settled, as the page shows it."""

from dataclasses import dataclass

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from outshop.estimate import Reading
from outshop.pages import bench_clock
from outshop.records.models import Direction, RunIn
from outshop.records.queries.settling import settling_of, still_to_run
from outshop.reports.charts import settling_chart
from outshop.workshop.settling import is_settled

NAMES = {
    "current_a": gettext_noop("Current"),
    "level_db": gettext_noop("Sound level"),
    "speed_km_h": gettext_noop("Scale speed"),
    "temperature_c": gettext_noop("Temperature"),
}


@dataclass(frozen=True, slots=True)
class Line:
    """One quantity in one direction and the minutes it still asks for."""

    name: str
    way: str
    left: Reading
    settled: bool


@dataclass(frozen=True, slots=True)
class Chart:
    """The readings of one quantity with their curves."""

    name: str
    svg: SafeString


@dataclass(frozen=True, slots=True)
class Shown:
    """What the page shows; ``left`` is None when nothing was measured that wears in."""

    left: Reading | None
    settled: bool
    unmeasured: list[str]
    lines: list[Line]
    charts: list[Chart]


def shown(run_in: RunIn) -> Shown | None:
    """Give the settling of a run-in, or None before there are readings enough to say anything."""
    found = settling_of(run_in, bench_clock.now())
    if not found:
        return None
    left = still_to_run(found)
    lines = [
        Line(_(NAMES[s.key]), _way(s.direction), s.left, s.settled)
        for s in found
        if s.key != "temperature_c"
    ]
    charts = []
    for key in dict.fromkeys(s.key for s in found):
        runs = [(_way(s.direction), s.minutes, s.values, s.fit) for s in found if s.key == key]
        unit = next(s.unit for s in found if s.key == key)
        svg = mark_safe(settling_chart(runs, unit))  # noqa: S308 - made here, texts escaped
        charts.append(Chart(_(NAMES[key]), svg))
    measured = {s.direction for s in found if s.key != "temperature_c"}
    planned = dict.fromkeys(str(leg["direction"]) for leg in run_in.legs)
    unmeasured = [_way(way) for way in planned if way not in measured]
    settled = left is not None and is_settled(left) and not unmeasured
    return Shown(left, settled, unmeasured, lines, charts)


def _way(direction: str) -> str:
    return _("forward") if direction == Direction.FORWARD else _("reverse")
