"""Before and after as pages show it: the verdict in words, then the rows."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from outshop.bench.compare import Comparison, Row, compare
from outshop.bench.sound import SoundBench
from outshop.errors import InputError
from outshop.estimate import Estimate
from outshop.pages import words
from outshop.records.models import Recording
from outshop.reports import compose
from outshop.reports.charts import interval_strip, spectrum_overlay
from outshop.reports.figures import written

PHONE_WIDTH = 340  # pixels: its figures stay legible at 390 and bear being enlarged
BETTER, WORSE, SAME, UNTOLD = "better", "worse", "no_provable_change", "not_comparable"


@dataclass(frozen=True, slots=True)
class ShownRow:
    """One quantity with its small chart."""

    row: Row
    chart: SafeString


@dataclass(frozen=True, slots=True)
class Untold:
    """Quantities that could not be compared for one and the same reason."""

    reason: str
    names: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Shown:
    """A comparison with its verdict in words."""

    verdict: str
    headline: str
    words: str
    rows: tuple[Row, ...]
    warnings: tuple[str, ...]

    @property
    def main(self) -> tuple[Row, ...]:
        """The main quantities that could be compared."""
        return tuple(r for r in self.rows if r.told and not is_detail(r))

    @property
    def details(self) -> tuple[Row, ...]:
        """The orders and bands that could be compared."""
        return tuple(r for r in self.rows if r.told and is_detail(r))

    @property
    def untold(self) -> list[Untold]:
        """What could not be compared, by reason."""
        rows = sorted((r for r in self.rows if not r.told), key=lambda r: r.reason)
        return [
            Untold(reason, tuple(words.quantity(r.quantity) for r in members))
            for reason, members in groupby(rows, key=lambda r: r.reason)
        ]


def is_detail(row: Row) -> bool:
    """Tell an order or a band, whose key is ``order: ...`` or ``band: ...``."""
    return ":" in row.quantity


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
        headline(comparison.verdict),
        sentence(comparison),
        comparison.rows,
        comparison.warnings,
    )


def with_charts(rows: Sequence[Row]) -> list[ShownRow]:
    """Draw the small chart of each row."""
    return [
        ShownRow(row, mark_safe(interval_strip(row.before, row.after)))  # noqa: S308 - made by us
        for row in rows
    ]


def spectrum(before: Recording, after: Recording) -> SafeString:
    """Draw the third-octave levels of both over one another; nothing without enough of them."""
    found = compose.spectrum_of(before, after)
    if found is None:
        return SafeString("")
    drawn = spectrum_overlay(
        found.frequency_hz, found.before_db, found.after_db, width=PHONE_WIDTH, height=150
    )
    return mark_safe(drawn)  # noqa: S308 - made by us from numbers


def sentence(comparison: Comparison) -> str:
    """Say what got better, what worse and what stayed; the headline's own kind comes first."""
    if comparison.verdict == UNTOLD and comparison.reason:
        return f"{comparison.reason[:1].upper()}{comparison.reason[1:]}."
    leads = {
        BETTER: _("Better: %(list)s."),
        WORSE: _("Worse: %(list)s."),
        SAME: _("No provable change: %(list)s."),
    }
    main = [row for row in comparison.rows if not is_detail(row)]
    rows = main if any(r.verdict in (BETTER, WORSE) for r in main) else list(comparison.rows)
    parts = []
    for kind in sorted(leads, key=lambda kind: kind != comparison.verdict):
        listed = ", ".join(_row_words(row) for row in rows if row.verdict == kind)
        if listed:
            own = kind == comparison.verdict
            whole = f"{listed[:1].upper()}{listed[1:]}." if own else leads[kind] % {"list": listed}
            parts.append(whole)
    return " ".join(parts) or _("None of the quantities could be measured in both recordings.")


def headline(verdict: str) -> str:
    """Give the verdict as the first words of a sheet."""
    return {
        BETTER: _("Better."),
        WORSE: _("Worse."),
        SAME: _("No provable change."),
    }.get(verdict, _("These two cannot be compared."))


def _row_words(row: Row) -> str:
    name = words.quantity(row.quantity)
    name = name[:1].lower() + name[1:]
    if row.verdict == SAME or not isinstance(row.change, Estimate):
        return name
    change = written(row.change, signed=True)
    return f"{name} {change.value} {change.unit}".strip()
