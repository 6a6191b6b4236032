"""Release sheets and the running log."""

import io
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db.models import Max
from django.utils import timezone

from outshop.records.models import JobCard, MediaFile, Piece, Release, RunningLog

from .media import keep_and
from .saving import add, once, remove, use_case


def issue_release(
    *,
    piece: Piece,
    snapshot: Mapping[str, Any],
    pdf: bytes,
    job: JobCard | None = None,
    signed_by: str = "",
    token: str = "",
) -> Release:
    """Freeze a release sheet: the data and the PDF that was made from it."""

    def new(media: MediaFile) -> Release:
        last = piece.releases.aggregate(last=Max("number"))["last"] or 0
        return add(
            Release(
                piece=piece,
                job=job,
                number=last + 1,
                signed_by=signed_by,
                snapshot=dict(snapshot),
                pdf=media,
            )
        )

    return keep_and(
        source=io.BytesIO(pdf),
        name="release.pdf",
        kinds=(MediaFile.Kind.DOCUMENT,),
        make=lambda media: once(token=token, model=Release, make=lambda: new(media)),
    )


@use_case
def log_running(
    *,
    piece: Piece,
    minutes: float,
    ran_at: datetime | None = None,
    note: str = "",
    token: str = "",
) -> RunningLog:
    """Note that a piece has run for some minutes."""
    entry = RunningLog(piece=piece, minutes=minutes, ran_at=ran_at or timezone.now(), note=note)
    return once(token=token, model=RunningLog, make=lambda: add(entry))


@use_case
def remove_running(*, entry: RunningLog) -> None:
    """Take an entry out of the running log."""
    remove(entry)
