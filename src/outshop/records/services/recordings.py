"""Recordings: kept first, measured in the background, their numbers kept beside them."""

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any, BinaryIO

from django.utils import timezone
from django_tasks_db.models import DBTaskResult

from outshop.estimate import Reading, reading_from_json
from outshop.records.models import JobCard, Measurement, MediaFile, Piece, Recording

from .media import keep_and
from .saving import add, change, once, remove, use_case

Status = Recording.Status


def add_recording(
    *,
    piece: Piece,
    source: BinaryIO,
    name: str,
    role: str = Recording.Role.OTHER,
    programme: str = "",
    job: JobCard | None = None,
    taken_at: datetime | None = None,
    full_scale_db: float | None = None,
    note: str = "",
    setup: Mapping[str, Any] | None = None,
    token: str = "",
) -> Recording:
    """Keep a recording and have it measured in the background.

    Raises
    ------
    MediaError
        It is neither sound nor video.
    InputError, StoreError
        It is empty, or cannot be kept.
    """

    def new(media: MediaFile) -> Recording:
        recording = add(
            Recording(
                piece=piece,
                media=media,
                role=role,
                programme=programme,
                job=job,
                taken_at=taken_at or timezone.now(),
                full_scale_db=full_scale_db,
                note=note,
                setup=dict(setup or {}),
            )
        )
        _send_to_worker(recording)
        return recording

    return keep_and(
        source=source,
        name=name,
        kinds=(MediaFile.Kind.SOUND, MediaFile.Kind.VIDEO),
        make=lambda media: once(token=token, model=Recording, make=lambda: new(media)),
    )


@use_case
def change_recording(
    *, recording: Recording, version: int | None = None, **fields: Any
) -> Recording:
    """Change what is said about a recording (never the recording itself)."""
    return change(recording, version=version, fields=fields)


@use_case
def measure_again(*, recording: Recording) -> Recording:
    """Send a recording to the worker once more, as after a change of the drive."""
    _reset(recording)
    _send_to_worker(recording)
    return recording


@use_case
def begin_measuring(*, recording: Recording) -> None:
    """Note that the worker has it now."""
    _update(recording, status=Status.ANALYSING, progress=0, error="")


@use_case
def note_progress(*, recording: Recording, percent: int) -> None:
    """Note how far the worker is, 0 to 100."""
    _update(recording, progress=max(0, min(percent, 100)))


@use_case
def keep_result(*, recording: Recording, result: Mapping[str, Any], kind: str) -> None:
    """Keep what a bench found: the whole JSON, and each estimate in it as a measurement."""
    recording.measurements.all().delete()
    for key, reading in readings_of(result).items():
        Measurement.of(
            reading,
            piece=recording.piece,
            recording=recording,
            kind=kind,
            key=key,
            taken_at=recording.taken_at,
        ).save()
    _update(recording, status=Status.DONE, progress=100, error="", result=dict(result))


@use_case
def note_failure(*, recording: Recording, sentence: str) -> None:
    """Note why a recording could not be measured; the recording itself stays."""
    recording.measurements.all().delete()
    _update(recording, status=Status.FAILED, error=sentence, result=None)


@use_case
def remove_recording(*, recording: Recording) -> None:
    """Remove a recording with its measurements."""
    remove(recording)


@use_case
def add_measurement(
    *,
    piece: Piece,
    kind: str,
    key: str,
    reading: Reading,
    taken_at: datetime | None = None,
    result: Mapping[str, Any] | None = None,
    media: MediaFile | None = None,
    token: str = "",
) -> Measurement:
    """Keep a reading that was typed in, or computed from typed readings or a logger's file."""
    measurement = Measurement.of(
        reading, piece=piece, kind=kind, key=key, taken_at=taken_at or timezone.now(), media=media
    )
    measurement.result = dict(result) if result is not None else None
    return once(token=token, model=Measurement, make=lambda: add(measurement))


@use_case
def add_together(
    *,
    piece: Piece,
    kind: str,
    readings: Mapping[str, Reading],
    result: Mapping[str, Any],
    token: str = "",
) -> list[Measurement]:
    """Keep readings that were found together; the first carries the whole result."""
    now = timezone.now()
    return [
        add_measurement(
            piece=piece,
            kind=kind,
            key=key,
            reading=reading,
            taken_at=now,
            result=result if number == 0 else None,
            token=f"{token[:32]}-{key}"[:64] if token else "",
        )
        for number, (key, reading) in enumerate(readings.items())
    ]


@use_case
def remove_together(*, piece: Piece, kind: str, pks: tuple[int, ...]) -> None:
    """Take readings back that were kept by a slip of the hand."""
    for row in Measurement.objects.filter(piece=piece, kind=kind, recording=None, pk__in=pks):
        remove_measurement(measurement=row)


@use_case
def remove_measurement(*, measurement: Measurement) -> None:
    """Remove a typed reading."""
    remove(measurement)


@use_case
def resume_interrupted(*, quiet_for: timedelta = timedelta(0)) -> int:
    """Send again what a worker left unfinished; give how many.

    Parameters
    ----------
    quiet_for : timedelta
        Leave alone what showed progress within this time: another machine may be at it.
    """
    before = timezone.now() - quiet_for
    if not quiet_for:  # nobody else is at it: what is in the queue is sent anew below
        DBTaskResult.objects.exclude(status__in=("SUCCESSFUL", "FAILED")).delete()
    left = Recording.objects.filter(
        status__in=(Status.ANALYSING, Status.WAITING), changed_at__lte=before
    )
    for recording in left:
        _reset(recording)
        _send_to_worker(recording)
    return len(left)


def readings_of(result: Mapping[str, Any]) -> dict[str, Reading]:
    """Find the estimates at the top of a bench's JSON."""
    return {
        key: reading_from_json(shape)
        for key, shape in result.items()
        if isinstance(shape, Mapping) and "unit" in shape and "value" in shape
    }


def _send_to_worker(recording: Recording) -> None:
    # in the same transaction as the row: both are there, or neither
    from outshop.records.tasks import measure_recording

    measure_recording.enqueue(recording.pk)


def _reset(recording: Recording) -> None:
    _update(recording, status=Status.WAITING, progress=0, error="")


def _update(recording: Recording, **columns: Any) -> None:
    """Write the worker's columns only, so that a person's edit is never overwritten."""
    columns["changed_at"] = timezone.now()
    Recording.objects.filter(pk=recording.pk).update(**columns)
    for name, value in columns.items():
        setattr(recording, name, value)
