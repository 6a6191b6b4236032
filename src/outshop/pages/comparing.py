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

BETTER, WORSE, SAME, UNTOLD = "better", "worse", "no_provable_change", "not_comparable"


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

    @property
    def told(self) -> tuple[Row, ...]:
        """The rows that could be compared."""
        return tuple(row for row in self.rows if row.verdict != UNTOLD)

    @property
    def untold(self) -> tuple[Row, ...]:
        """The rows that could not."""
        return tuple(row for row in self.rows if row.verdict == UNTOLD)


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
    """Say what got better, what worse and what stayed; the headline's own kind comes first."""
    leads = {
        BETTER: _("Better: %(list)s."),
        WORSE: _("Worse: %(list)s."),
        SAME: _("No provable change: %(list)s."),
    }
    parts = []
    for kind in sorted(leads, key=lambda kind: kind != comparison.verdict):
        rows = [row for row in comparison.rows if row.verdict == kind]
        if not rows:
            continue
        listed = ", ".join(_row_words(row) for row in rows)
        own = kind == comparison.verdict
        parts.append(
            f"{listed[:1].upper()}{listed[1:]}." if own else leads[kind] % {"list": listed}
        )
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
