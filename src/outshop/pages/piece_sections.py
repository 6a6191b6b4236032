"""What each section of a piece's page shows. The piece comes with everything prefetched."""

from dataclasses import dataclass
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext as _

from outshop.estimate import Reading
from outshop.pages import axle_drawing, comparing, sound_status
from outshop.pages.piece_form import write_stages
from outshop.records import queries, services
from outshop.records.models import Finding, Inspection, JobCard, Piece, Recording
from outshop.workshop.findings import summarise

HEADLINES = ("level", "motor_speed", "scale_speed")  # shown in the list of recordings


@dataclass(frozen=True, slots=True)
class Row:
    """A quantity and its reading."""

    key: str
    reading: Reading


@dataclass(frozen=True, slots=True)
class RecordingLine:
    """A recording in the list, with its most telling readings."""

    recording: Recording
    headline: list[Row]
    unsure: str = ""  # the speed in words when more than one fits


@dataclass(frozen=True, slots=True)
class JobLine:
    """A job card in the list."""

    job: JobCard
    done: int
    count: int


def identity(piece: Piece) -> dict[str, Any]:
    """Give what the Identity section shows."""
    own = [p for p in piece.photos.all() if p.finding_id is None and p.step_id is None]
    if [p.pk for p in own] == [piece.cover_id]:  # it stands in the title block already
        own = []
    events = piece.prototype.events.all() if piece.prototype else []
    return {"photos": own, "events": list(events), "drive": _drive_words(piece.known_drive)}


def condition(piece: Piece) -> dict[str, Any]:
    """Give what the Condition section shows: the latest inspection."""
    inspections = list(piece.inspections.all())
    latest = inspections[0] if inspections else None
    findings = list(latest.findings.all()) if latest else []

    def address(label: str) -> str:
        return f"{reverse('inspection', args=[latest.pk])}?axle={label}" if latest else ""

    return {
        "inspection": latest,
        "earlier": inspections[1:6],
        "condition": summarise(services.as_workshop(findings)) if latest else None,
        "drawing": axle_drawing.drawing(
            piece.known_arrangement,
            axle_drawing.marks_of(axle_states(findings)),
            link=address if latest else None,
        ),
    }


def axle_states(findings: list[Finding]) -> list[tuple[str, str]]:
    """Give axle labels with their states."""
    return [(f.target, f.state) for f in findings if f.target_kind == Finding.TargetKind.AXLE]


def stops_of(piece: Piece) -> list[Any]:
    """Give the stop-signs of the latest inspection."""
    latest: Inspection | None = queries.latest_inspection(piece)
    if latest is None:
        return []
    return list(summarise(services.as_workshop(latest.findings.all())).stops)


def bench(piece: Piece) -> dict[str, Any]:
    """Give what the Bench section shows."""
    recordings = list(piece.recordings.all())
    role = Recording.Role
    done = [r for r in recordings if r.status == Recording.Status.DONE]
    before = next((r for r in done if r.role == role.BEFORE), None)
    after = next((r for r in done if r.role == role.AFTER), None)
    has_before = any(r.role == role.BEFORE for r in recordings)
    return {
        "recordings": [_recording_line(r) for r in recordings],
        "comparison": comparing.shown(before, after) if before and after else None,
        "next_role": role.AFTER if has_before else role.BEFORE,
    }


def _recording_line(recording: Recording) -> RecordingLine:
    speed = sound_status.status_of(recording.result or {})
    return RecordingLine(
        recording, _headline(recording, unsure=speed.unsure), sound_status.in_short(speed)
    )


def _headline(recording: Recording, *, unsure: bool) -> list[Row]:
    readings = {m.key: m.reading for m in recording.measurements.all() if m.value is not None}
    hidden = sound_status.SPEEDS if unsure else ()
    return [Row(key, readings[key]) for key in HEADLINES if key in readings and key not in hidden]


def jobs(piece: Piece) -> dict[str, Any]:
    """Give what the Jobs section shows."""
    lines = [JobLine(job, *queries.step_progress(job)[:2]) for job in piece.jobs.all()]
    log = list(piece.running_log.all()[:20])
    return {
        "jobs": lines,
        "run_ins": list(piece.run_ins.all()),
        "log": log,
        "ran": queries.running_minutes(piece) if log else 0,
    }


def papers(piece: Piece) -> dict[str, Any]:
    """Give what the Papers section shows."""
    return {"releases": list(piece.releases.all())}


def _drive_words(drive: dict[str, Any]) -> str:
    """Write a drive in words."""
    words = []
    if poles := drive.get("armature_poles"):
        words.append(_("%(n)s poles") % {"n": poles})
    if stages := drive.get("stages"):
        words.append(_("gears %(stages)s") % {"stages": write_stages(stages)})
    if diameter := drive.get("wheel_diameter_mm"):
        words.append(_("wheels %(mm)s mm") % {"mm": diameter})
    return ", ".join(words)
