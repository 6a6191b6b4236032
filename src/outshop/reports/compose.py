"""From the records of a job to the release sheet that is frozen for it."""

from collections.abc import Iterable
from typing import cast

from django.utils import timezone

from outshop.bench.compare import Comparison, Row, compare
from outshop.bench.compare.speed_tables import compare_tables
from outshop.bench.sound import SoundBench
from outshop.errors import MediaError, NotationError, OutshopError
from outshop.estimate import Estimate
from outshop.media import picture
from outshop.railway import arrangement as arrangements
from outshop.records import queries, services, store
from outshop.records.models import Finding, JobCard, JobStep, Piece, Recording, RunIn
from outshop.records.queries.speed_tables import before_and_after_tables
from outshop.reports.axles import AxleMark, printed_diagram
from outshop.reports.figures import written
from outshop.reports.job_card import job_card as job_card_sheet
from outshop.reports.sheet import Fact, ReleaseSheet, RunInLine, SheetRow, Spectrum
from outshop.reports.spoken_dates import in_words
from outshop.reports.words import quantity
from outshop.workshop import cautions
from outshop.workshop.findings import summarise
from outshop.workshop.job_card import CardStep
from outshop.workshop.job_card import JobCard as WorkshopCard
from outshop.workshop.parts import axle_states
from outshop.workshop.tasks import Phase

PHOTO_SIDE = 1200  # pixels: sharp at 10 cm on paper
ON_THE_SHEET = ("start_forward", "start_reverse", "creep", "top")  # of a speed table's figures
LEAST_BANDS = 5  # fewer make no curve; ours
ALWAYS = ("unattended", "over-oiling")  # what the next person must know of any model


def release_of(piece: Piece, job: JobCard, *, signed_by: str = "") -> ReleaseSheet:
    """Put together what stands on a job's release sheet today."""
    before, after = queries.before_and_after(piece, job)
    comparison = _compared(before, after)
    return ReleaseSheet(
        number=str(piece.releases.count() + 1),
        released_on=timezone.localdate().isoformat(),
        title=str(piece),
        identity=_identity(piece),
        verdict=comparison.verdict if comparison else "not_comparable",
        verdict_sentence=_sentence(comparison, before, after),
        found=_found(job),
        done=_done(job),
        rows=(*_rows(comparison), *_speed_rows(piece)),
        run_in=_run_in(piece, job),
        cautions=tuple(f"{c.title}: {c.text}" for c in map(cautions.caution, ALWAYS)),
        remarks="",
        signed_by=signed_by,
        spectrum=spectrum_of(before, after) if _levels_told(comparison) else None,
        photo_sha256=piece.cover.media.sha256 if piece.cover else "",
    )


def card_of(job: JobCard) -> bytes:
    """Print a job card as it stands now, with what is ticked and noted."""
    steps = list(job.steps.select_related("reverses"))
    kept = [] if job.inspection is None else list(job.inspection.findings.all())
    condition = summarise(services.as_workshop(kept))
    lines = tuple(_card_step(step) for step in steps)
    card = WorkshopCard(
        tasks=(),
        steps=lines,
        tools=_each_once(line.tools for line in lines),
        consumables=_each_once(line.consumables for line in lines),
        minutes=sum(line.minutes for line in lines),
        reasons=tuple(f.sentence for f in (*condition.faults, *condition.missing)),
        stop_signs=tuple(f.sentence for f in condition.stops),
        unanswered=tuple(line for line in job.note.splitlines() if line),
    )
    ticked = [line.key for line, step in zip(lines, steps, strict=True) if step.done_at]
    notes = {line.key: step.note for line, step in zip(lines, steps, strict=True) if step.note}
    return job_card_sheet(
        card,
        title=str(job.piece),
        number=str(job.pk),
        identity=_identity(job.piece),
        done=ticked,
        notes=notes,
        diagram_svg=_printed_axles(job.piece, kept),
    )


def _card_step(step: JobStep) -> CardStep:
    known = {c.id for c in cautions.all_cautions()}
    return CardStep(
        key=str(step.pk),
        phase=cast(Phase, step.phase or "work"),
        title=step.title,
        text=step.text,
        minutes=step.minutes,
        tools=tuple(step.tools),
        consumables=tuple(step.consumables),
        cautions=tuple(name for name in step.cautions if name in known),
    )


def _each_once(lists: Iterable[tuple[str, ...]]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(item for one in lists for item in one))


def _printed_axles(piece: Piece, kept: Iterable[Finding]) -> str:
    try:
        arrangement = arrangements.parse(piece.known_arrangement)
    except NotationError:
        return ""
    states = {state.id: state for state in axle_states()}
    marks = {
        f.target: AxleMark(states[f.state].name, states[f.state].gravity)
        for f in kept
        if f.target_kind == Finding.TargetKind.AXLE and f.state in states
    }
    return printed_diagram(arrangement, marks)


def photo_of(sheet: ReleaseSheet) -> bytes | None:
    """Give the sheet's photo without the place where it was taken; None when it is gone."""
    if not sheet.photo_sha256:
        return None
    try:
        return picture.thumbnail(store.path_of(sheet.photo_sha256), PHOTO_SIDE).data
    except (MediaError, OSError):
        return None


def _identity(piece: Piece) -> tuple[Fact, ...]:
    facts = (
        ("Edition", str(piece.edition or "")),
        ("Scale", piece.known_scale),
        ("Arrangement", piece.known_arrangement),
        ("Kind", str(piece.get_kind_display())),
        ("Shows", in_words(piece.shows)),
    )
    return tuple(Fact(label, value) for label, value in facts if value)


def _found(job: JobCard) -> tuple[str, ...]:
    if job.inspection is None:
        return ()
    condition = summarise(services.as_workshop(job.inspection.findings.all()))
    graves = (*condition.stops, *condition.faults, *condition.missing, *condition.watch)
    return tuple(f.sentence + (f" ({f.note})" if f.note else "") for f in graves)


def _done(job: JobCard) -> tuple[str, ...]:
    """Give the work that was ticked, without taking off and putting back."""
    ticked = job.steps.exclude(done_at=None)
    work = [step for step in ticked if step.phase not in ("strip-down", "reassembly")]
    return tuple(step.title + (f" ({step.note})" if step.note else "") for step in work)


def _run_in(piece: Piece, job: JobCard) -> RunInLine | None:
    ended = piece.run_ins.filter(state__in=(RunIn.State.FINISHED, RunIn.State.STOPPED))
    run_in = ended.filter(job=job).first() or ended.filter(created_at__gte=job.created_at).first()
    if run_in is None:
        return None
    minutes = {"forward": 0.0, "reverse": 0.0}
    for segment in run_in.segments.all():
        if segment.ended_at:
            ran = (segment.ended_at - segment.started_at).total_seconds() / 60
            minutes[str(run_in.legs[segment.leg]["direction"])] += ran
    samples = list(run_in.samples.all())
    return RunInLine(
        round(minutes["forward"], 1),
        round(minutes["reverse"], 1),
        _highest(s.temperature_c for s in samples),
        _highest(s.current_a for s in samples),
        run_in.stop_reason,
    )


def _highest(readings: Iterable[float | None]) -> float | None:
    return max((r for r in readings if r is not None), default=None)


def _compared(before: Recording | None, after: Recording | None) -> Comparison | None:
    if before is None or after is None or before.result is None or after.result is None:
        return None
    try:
        return compare(SoundBench.from_json(before.result), SoundBench.from_json(after.result))
    except OutshopError:  # measured by another version
        return None


def _rows(comparison: Comparison | None) -> tuple[SheetRow, ...]:
    """Give the main quantities that could be compared; orders and bands stay on the page."""
    rows = comparison.rows if comparison else ()
    return tuple(_sheet_row(r) for r in rows if r.told and not _detail(r))


def _speed_rows(piece: Piece) -> tuple[SheetRow, ...]:
    """Give what a speed table before the work and one after it tell together."""
    before, after = before_and_after_tables(piece)
    if before is None or after is None or after.taken_at < before.taken_at:
        return ()
    rows = compare_tables(before.table, after.table).rows
    return tuple(_sheet_row(r) for r in rows if r.told and r.quantity.startswith(ON_THE_SHEET))


def _detail(row: Row) -> bool:
    """Tell an order or a band, whose key is ``order: ...`` or ``band: ...``."""
    return ":" in row.quantity


def _levels_told(comparison: Comparison | None) -> bool:
    """Tell whether the bands stand on one footing, so that their curves may be laid together."""
    rows = comparison.rows if comparison else ()
    return any(r.quantity.startswith("band: ") and r.verdict != "not_comparable" for r in rows)


def spectrum_of(before: Recording | None, after: Recording | None) -> Spectrum | None:
    """Give the third-octave levels of both recordings where both have them, the room included."""
    tables = [
        {band["midband_hz"]: band["running_db"] for band in (r.result or {}).get("bands", ())}
        for r in (before, after)
        if r is not None
    ]
    if len(tables) != 2:
        return None
    one, other = tables
    both = [f for f in sorted(one) if None not in (one[f], other.get(f))]
    if len(both) < LEAST_BANDS:
        return None
    return Spectrum(tuple(both), tuple(one[f] for f in both), tuple(other[f] for f in both))


def _sheet_row(row: Row) -> SheetRow:
    return SheetRow(row.quantity, row.before, row.after, row.change, row.word, row.reason)


def _sentence(
    comparison: Comparison | None, before: Recording | None, after: Recording | None
) -> str:
    if comparison is None:
        gone = [n for n, r in (("before", before), ("after", after)) if r is None]
        if gone:
            return f"No measured recording from {' and '.join(gone)} the work."
        return "The recordings were measured by different versions: measure them again."
    if comparison.verdict == "not_comparable" and comparison.reason:
        return f"{comparison.reason[:1].upper()}{comparison.reason[1:]}."
    words = []
    rows = [row for row in comparison.rows if not _detail(row)]
    for verdict, lead in (("better", "Better"), ("worse", "Worse")):
        changed = [_row_words(row) for row in rows if row.verdict == verdict]
        if changed and verdict == comparison.verdict:  # the sheet says that word just before
            words.append(f"{changed[0][:1].upper()}{', '.join(changed)[1:]}.")
        elif changed:
            words.append(f"{lead}: {', '.join(changed)}.")
    same = [quantity(r.quantity).lower() for r in rows if r.verdict == "no_provable_change"]
    if same:
        words.append(f"No provable change: {', '.join(same)}.")
    return " ".join(words) or "None of the quantities could be measured in both recordings."


def _row_words(row: Row) -> str:
    name = quantity(row.quantity).lower()
    if not isinstance(row.change, Estimate):
        return name
    change = written(row.change, signed=True)
    return f"{name} {change.value} {change.unit}".strip()
