"""What a dossier and a display card say, gathered from the records."""

from datetime import date

from django.utils import timezone

from outshop.records.models import Measurement, Piece, Valuation
from outshop.records.queries.pieces import latest_inspection, running_minutes
from outshop.records.services import as_workshop
from outshop.workshop.findings import summarise

MOST_EVIDENCE = 2000  # all of it, in practice
MOST_SERIES = 6  # quantities drawn over time, those with most days first
MOST_LINES = 40  # of one chapter; the export has all


def condition_lines(piece: Piece) -> list[str]:
    """Give the latest findings in words, gravest first."""
    inspection = latest_inspection(piece)
    if inspection is None:
        return []
    found = summarise(as_workshop(inspection.findings.all()))
    graves = (*found.stops, *found.faults, *found.missing, *found.watch)
    lines = [f.sentence for f in graves][:MOST_LINES]
    return [f"Looked over on {inspection.made_on}.", *(lines or ["Nothing amiss was found."])]


def service_lines(piece: Piece) -> list[str]:
    """Give jobs and running hours in words."""
    jobs = piece.jobs.order_by("created_at")
    lines = [f"{job.created_at:%Y-%m-%d}: {job.title} ({job.get_state_display()})" for job in jobs]
    hours = running_minutes(piece) / 60
    return [*lines[-MOST_LINES:], f"Ran {hours:.1f} hours in all."]


def measurement_lines(piece: Piece) -> list[tuple[str, str, str]]:
    """Give the latest reading of each quantity: day, key, and value with interval."""
    latest = {}
    for m in piece.measurements.filter(value__isnull=False).order_by("taken_at", "pk"):
        latest[m.key] = m
    return [
        (f"{m.taken_at:%Y-%m-%d}", m.key, f"{m.value:.4g} ({m.low:.4g} to {m.high:.4g}) {m.unit}")
        for m in latest.values()
    ][:MOST_LINES]


def evidence_lines(piece: Piece) -> list[str]:
    """Give the evidence with its windows, trust and source."""
    return [
        f"{e.what}: {e.window}, {e.get_about_display()}, trust {100 * e.trust:.0f} %"
        + (f" ({e.source})" if e.source else "")
        for e in piece.evidence.all()[:MOST_EVIDENCE]
    ]


def research_lines(piece: Piece) -> list[str]:
    """Give open and settled questions."""
    return [
        f"{note.question} {note.finding}".strip()
        + (" (settled)" if note.settled else f" Would be settled by: {note.would_settle or '?'}")
        for note in piece.research.all()[:MOST_LINES]
    ]


def prototype_lines(piece: Piece) -> list[str]:
    """Give the life of the full-size engine."""
    if piece.prototype is None:
        return []
    return [
        f"{event.date}: {event.get_kind_display()} {event.text}".strip()
        + (f" ({event.source})" if event.source else "")
        for event in piece.prototype.events.all()[:MOST_LINES]
    ]


def value_lines(piece: Piece) -> list[str]:
    """Give the values, each on its own basis."""
    rows: list[Valuation] = list(piece.valuations.all()[:MOST_LINES])
    return [
        f"{v.valued_on}: {v.get_basis_display()} {v.amount.normalize():f} {v.currency}"
        + (f" ({v.source})" if v.source else "")
        for v in rows
    ]


def original_lines(piece: Piece) -> list[str]:
    """Give original parts: those still in it, and those taken out and where they are kept."""
    lines = []
    for part in piece.fitted_parts.filter(original=True)[:MOST_LINES]:
        if part.removed_on is None:
            lines.append(f"{part}: in the piece")
        else:
            kept = part.kept_in or "not written down"
            lines.append(f"{part}: taken out on {part.removed_on}, kept in: {kept}")
    return lines


def measured_series(piece: Piece) -> dict[str, list[Measurement]]:
    """Give the quantities measured on at least two days, the last reading of each day."""
    series: dict[tuple[str, str], dict[date, Measurement]] = {}
    for m in piece.measurements.filter(value__isnull=False).order_by("taken_at", "pk"):
        series.setdefault((m.key, m.unit), {})[timezone.localdate(m.taken_at)] = m
    several = [(key, list(days.values())) for (key, _), days in series.items() if len(days) > 1]
    return dict(sorted(several, key=lambda pair: -len(pair[1]))[:MOST_SERIES])
