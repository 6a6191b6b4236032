"""Before and after as pages show it: the verdict in words, then the rows."""

from dataclasses import dataclass

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from outshop.bench.compare import Comparison, Row, compare
from outshop.bench.sound import SoundBench
from outshop.errors import InputError
from outshop.estimate import Estimate
from outshop.pages import words
from outshop.records.models import Recording
from outshop.reports.charts import interval_strip
from outshop.reports.figures import written

BETTER, WORSE, SAME = "better", "worse", "no_provable_change"


@dataclass(frozen=True, slots=True)
class ShownRow:
    """One quantity with its small chart."""

    row: Row
    chart: SafeString


@dataclass(frozen=True, slots=True)
class Shown:
    """A comparison with its verdict in words."""

    verdict: str
    headline: str
    words: str
    rows: tuple[Row, ...]
    warnings: tuple[str, ...]


def shown(before: Recording, after: Recording) -> Shown | None:
    """Compare two measured recordings; None when a result is from another version."""
    if before.result is None or after.result is None:
        return None
    try:
        comparison = compare(
            SoundBench.from_json(before.result), SoundBench.from_json(after.result)
        )
    except InputError:
        return None
    return Shown(
        comparison.verdict,
        _headline(comparison.verdict),
        sentence(comparison),
        comparison.rows,
        comparison.warnings,
    )


def with_charts(rows: tuple[Row, ...]) -> list[ShownRow]:
    """Draw the small chart of each row."""
    return [
        ShownRow(row, mark_safe(interval_strip(row.before, row.after)))  # noqa: S308 - made by us
        for row in rows
    ]


def sentence(comparison: Comparison) -> str:
    """Say what got better, what worse, and what cannot be told."""
    parts = []
    for kind, text in (
        (BETTER, _("Better: %(list)s.")),
        (WORSE, _("Worse: %(list)s.")),
        (SAME, _("No provable change: %(list)s.")),
    ):
        rows = [row for row in comparison.rows if row.verdict == kind]
        if rows:
            parts.append(text % {"list": ", ".join(_row_words(row) for row in rows)})
    return " ".join(parts) or _("None of the quantities could be measured in both recordings.")


def _row_words(row: Row) -> str:
    name = words.quantity(row.quantity).lower()
    if row.verdict == SAME or not isinstance(row.change, Estimate):
        return name
    change = written(row.change, signed=True)
    return f"{name} {change.value} {change.unit}".strip()


def _headline(verdict: str) -> str:
    return {
        BETTER: _("Better."),
        WORSE: _("Worse."),
        SAME: _("No provable change."),
    }.get(verdict, _("These two cannot be compared."))
