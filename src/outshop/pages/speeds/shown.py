"""A speed table as the page shows it: chart, figures a direction, verdict, before and after."""

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from outshop.bench.compare import Comparison
from outshop.bench.compare.speed_tables import compare_tables
from outshop.bench.motion.speed_rows import VOLT
from outshop.bench.motion.speed_table import PER_WAY, SpeedTable
from outshop.bench.motion.top_speed import FAST, OPEN, SLOW, WITHIN
from outshop.estimate import Estimate, Reading
from outshop.pages import comparing
from outshop.records.queries.speed_tables import KeptTable
from outshop.reports.speed_chart import speed_chart

EMPTY = SafeString("")


@dataclass(frozen=True, slots=True)
class FigureRow:
    """One figure: (direction in words, reading) for each, the direction empty for both at once."""

    name: str
    cells: tuple[tuple[str, Reading], ...]


@dataclass(frozen=True, slots=True)
class Untold:
    """Figures that are not there for one and the same reason."""

    reason: str
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ShownTable:
    """A table ready for the page."""

    table: SpeedTable
    chart: SafeString
    ways: tuple[str, ...]
    rows: tuple[FigureRow, ...]
    untold: tuple[Untold, ...]
    verdict: str
    mark: str


@dataclass(frozen=True, slots=True)
class ShownChange:
    """Two tables against each other."""

    before: KeptTable
    after: KeptTable
    comparison: Comparison
    headline: str
    words: str
    rows: Sequence[comparing.ShownRow]


def show(table: SpeedTable, before: SpeedTable | None = None) -> ShownTable:
    """Make a table ready, the one before behind it in the chart."""
    rows, untold = _figures(table)
    told = table.verdict.verdict if table.verdict else ""
    marks = {WITHIN: "better", FAST: "worse", SLOW: "worse", OPEN: ""}
    drawn = speed_chart(table, before, words=_chart_words(table))
    return ShownTable(
        table,
        mark_safe(drawn),  # noqa: S308 - the drawing escapes what it is given
        tuple(_way(w) for w in table.ways),
        rows,
        untold,
        table.verdict.sentence if table.verdict else "",
        marks.get(told, ""),
    )


def change(before: KeptTable | None, after: KeptTable | None) -> ShownChange | None:
    """Compare the table before the work with the one after it; None when one is missing."""
    if before is None or after is None:
        return None
    found = compare_tables(before.table, after.table)
    return ShownChange(
        before,
        after,
        found,
        comparing.headline(found.verdict),
        comparing.sentence(found) if found.rows else found.reason,
        comparing.with_charts([r for r in found.rows if r.told]),
    )


def _figures(table: SpeedTable) -> tuple[tuple[FigureRow, ...], tuple[Untold, ...]]:
    readings = table.readings()
    rows, missing = [], dict[str, list[str]]()
    for key in (*PER_WAY[:4], "creep_scale", *PER_WAY[4:5], "top_scale", *PER_WAY[5:]):
        cells = tuple(
            (_way(w), readings[f"{key}_{w}"]) for w in table.ways if f"{key}_{w}" in readings
        )
        if any(isinstance(c, Estimate) for _name, c in cells):
            rows.append(FigureRow(figure_name(key), cells))
            continue
        for _name, cell in cells[:1]:
            if not isinstance(cell, Estimate) and not key.endswith("_scale"):
                missing.setdefault(cell.reason, []).append(figure_name(key))
    both = readings.get("forward_over_reverse")
    if isinstance(both, Estimate):
        rows.append(FigureRow(figure_name("forward_over_reverse"), (("", both),)))
    untold = tuple(Untold(reason, tuple(names)) for reason, names in missing.items())
    return tuple(rows), untold


def figure_name(key: str) -> str:
    """Give the name of a figure of one direction."""
    names = {
        "start": _("Starts at"),
        "drop_out": _("Drops out at"),
        "start_over_drop_out": _("Start above drop-out"),
        "creep": _("Creep, slowest steady speed"),
        "creep_scale": _("Creep at full size"),
        "top": _("Top speed"),
        "top_scale": _("Top speed at full size"),
        "bow": _("Bow of speed over setting"),
        "unevenness": _("Unevenness about the curve"),
        "lag": _("Faster when lowered than when raised"),
        "forward_over_reverse": _("Faster forward than in reverse"),
    }
    return names.get(key, key)


def _way(direction: str) -> str:
    return {"forward": _("Forward"), "reverse": _("Reverse")}.get(direction, direction)


def _chart_words(table: SpeedTable) -> dict[str, str]:
    return {
        "forward": _("forward"),
        "reverse": _("reverse"),
        "forward, raising": _("forward, raising"),
        "forward, lowering": _("forward, lowering"),
        "reverse, raising": _("reverse, raising"),
        "reverse, lowering": _("reverse, lowering"),
        "setting": _("setting, V") if table.rows.unit == VOLT else _("throttle step"),
        "speed": _("km/h at full size") if table.scale else _("m/s of the model"),
        "said": _("Speed over setting"),
    }
