"""Keep what the meter page found as measurements of the piece, and find it again."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, BinaryIO, cast

from django.core.files.uploadedfile import UploadedFile
from django.utils import timezone

from outshop.estimate import Estimate, Reading
from outshop.pages.meter.answers import Answer
from outshop.records import services
from outshop.records.models import Measurement, MediaFile, Piece
from outshop.reports.axles import AxleMark

MOST_TYPED = 60  # fields of one form


@dataclass(frozen=True, slots=True)
class Kept:
    """Readings of one topic that were kept together."""

    taken_at: datetime
    readings: tuple[tuple[str, Reading], ...]
    result: Mapping[str, Any]
    pks: tuple[int, ...]
    media: MediaFile | None = None

    @property
    def typed(self) -> dict[str, str]:
        """What stood in the form, to be shown again."""
        return dict(self.result.get("typed", {}))

    @property
    def axle(self) -> str:
        """The axle it belongs to, empty for none."""
        return str(self.result.get("axle", ""))


@dataclass(frozen=True, slots=True)
class Change:
    """A reading against the last one kept; provable if the interval leaves zero out."""

    change: Estimate
    provable: bool


def keep(
    *,
    piece: Piece,
    topic: str,
    answer: Answer,
    typed: Mapping[str, str],
    log: UploadedFile[Any] | None = None,
    token: str = "",
) -> None:
    """Keep each reading that could be measured, and the logger's file it came from."""
    if log is None:
        _keep(piece, topic, answer, typed, token, None)
        return
    log.seek(0)  # it was read to be measured
    services.keep_table(
        source=cast(BinaryIO, log),
        name=log.name or "log.csv",
        make=lambda media: _keep(piece, topic, answer, typed, token, media),
    )


@services.use_case
def _keep(
    piece: Piece,
    topic: str,
    answer: Answer,
    typed: Mapping[str, str],
    token: str,
    media: MediaFile | None,
) -> Measurement:
    """Make a row of each reading; every one carries the whole result."""
    now = timezone.now()
    whole = {
        **answer.result,
        "findings": list(answer.findings),
        "verdict_line": answer.verdict,
        "typed": dict(list(typed.items())[:MOST_TYPED]),
        "axle": typed.get("axle", ""),
    }
    measured: dict[str, Reading] = {
        k: r for k, r in answer.readings.items() if isinstance(r, Estimate)
    }
    rows = []
    for key, reading in (measured or dict(answer.readings)).items():
        row = services.add_measurement(
            piece=piece, kind=topic, key=key, reading=reading, taken_at=now, result=whole,
            media=media, token=f"{token[:40]}-{key}"[:64] if token else "",
        )  # fmt: skip
        rows.append(row)
    return rows[0]


def kept(piece: Piece, topics: tuple[str, ...]) -> dict[str, list[Kept]]:
    """Give what is on record, topic by topic, newest first."""
    rows = (
        piece.measurements.filter(kind__in=topics, recording=None)
        .select_related("media")
        .order_by("-taken_at", "pk")
    )
    groups: dict[tuple[str, datetime], list[Measurement]] = {}
    for row in rows:
        groups.setdefault((row.kind, row.taken_at), []).append(row)
    found: dict[str, list[Kept]] = {}
    for (kind, when), members in groups.items():
        readings = tuple((m.key, m.reading) for m in members)
        first = members[0]
        pks = tuple(m.pk for m in members)
        one = Kept(when, readings, first.result or {}, pks, first.media)
        found.setdefault(kind, []).append(one)
    return found


def changes(
    past: list[Kept], answer: Answer, axle: str = ""
) -> tuple[datetime | None, dict[str, Change]]:
    """Give how each reading changed since it was last kept, and when that was."""
    last = next((k for k in past if k.axle == axle), None)
    if last is None:
        return None, {}
    before = dict(last.readings)
    found = {}
    for key, now in answer.readings.items():
        then = before.get(key)
        if isinstance(now, Estimate) and isinstance(then, Estimate) and now.unit == then.unit:
            change = now - then
            found[key] = Change(change, provable=not change.low <= 0 <= change.high)
    return last.taken_at, found


def findings_of(found: Mapping[str, list[Kept]]) -> dict[str, list[str]]:
    """Give the findings of the latest of each topic."""
    return {
        topic: list(all_[0].result.get("findings", ())) for topic, all_ in found.items() if all_
    }


def axle_marks(wheel_sets: list[Kept]) -> dict[str, AxleMark]:
    """Give a mark for each axle that was measured, from its latest readings."""
    marks: dict[str, AxleMark] = {}
    for one in wheel_sets:
        if one.axle and one.axle not in marks:
            out = one.result.get("verdict") == "out"
            word = str(one.result.get("verdict_line", ""))
            advice = bool(one.result.get("advice"))
            marks[one.axle] = AxleMark(word, "fault" if out else "watch" if advice else "good")
    return marks


@services.use_case
def forget(rows: Iterable[Measurement]) -> None:
    """Remove readings that were kept by a slip."""
    for row in rows:
        services.remove_measurement(measurement=row)
