"""Papers around a piece: claims report, insurance schedule, dossier, display card."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from outshop.errors import InputError
from outshop.reports.printing import picture_name, print_pdf
from outshop.reports.sheet import Fact


@dataclass(frozen=True, slots=True)
class Picture:
    """A photo and what it shows, in words."""

    data: bytes
    caption: str = ""


@dataclass(frozen=True, slots=True)
class ClaimLine:
    """A claim, its verdict in words, and the evidence."""

    claim: str
    verdict: str
    because: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ClaimsReport:
    """Claims beside findings, with what was measured and photographed."""

    title: str
    facts: tuple[Fact, ...]
    claims: tuple[ClaimLine, ...]
    measured: tuple[str, ...]
    deadline: str
    written_on: str
    photos: tuple[Picture, ...] = ()


@dataclass(frozen=True, slots=True)
class ScheduleLine:
    """One piece of a schedule; an empty value means that none is known."""

    name: str
    value: str
    photo: bytes = b""


@dataclass(frozen=True, slots=True)
class ScheduleGroup:
    """Pieces at one place with their total."""

    place: str
    lines: tuple[ScheduleLine, ...]
    total: str


@dataclass(frozen=True, slots=True)
class Chapter:
    """A heading with lines under it, and a drawing if there is one."""

    title: str
    lines: tuple[str, ...] = ()
    svg: str = ""


@dataclass(frozen=True, slots=True)
class Dossier:
    """Everything on a piece, chapter by chapter."""

    title: str
    identity: tuple[Fact, ...]
    chapters: tuple[Chapter, ...]
    written_on: str
    photos: tuple[Picture, ...] = field(default=())


def claims_report(report: ClaimsReport) -> bytes:
    """Print claims beside findings, politely and factually; a damaged photo is left out."""
    data = {
        "title": report.title,
        "day": report.written_on,
        "facts": _facts(report.facts),
        "claims": [
            {"claim": c.claim, "verdict": c.verdict, "because": list(c.because)}
            for c in report.claims
        ],
        "measured": list(report.measured),
        "deadline": report.deadline,
    }
    return _with_photos("claims", data, {}, report.photos)


def schedule_sheet(
    basis: str, groups: Sequence[ScheduleGroup], total: str, unvalued: Sequence[str], day: str
) -> bytes:
    """Print the schedule by place; with an empty ``total`` no value is printed at all."""
    pictures: dict[str, bytes] = {}
    shown: list[dict[str, Any]] = []
    for g in groups:
        lines: list[dict[str, str | None]] = []
        for line in g.lines:
            file = picture_name(f"piece-{len(pictures)}", line.photo)
            if file:
                pictures[file] = line.photo
            lines.append({"name": line.name, "value": line.value, "photo": file})
        shown.append({"place": g.place, "total": g.total, "lines": lines})
    data = {"basis": basis, "day": day, "total": total, "groups": shown, "unvalued": list(unvalued)}
    try:
        return print_pdf("schedule", data, pictures)
    except InputError:  # a damaged photo must not cost the whole sheet
        bare = [
            group | {"lines": [line | {"photo": None} for line in group["lines"]]}
            for group in shown
        ]
        return print_pdf("schedule", data | {"groups": bare})


def dossier_sheet(dossier: Dossier) -> bytes:
    """Print the dossier; a photo that cannot be printed is left out."""
    pictures: dict[str, bytes] = {}
    chapters = []
    for number, chapter in enumerate(dossier.chapters):
        name = f"drawing-{number}.svg" if chapter.svg else None
        if name:
            pictures[name] = chapter.svg.encode()
        chapters.append({"title": chapter.title, "lines": list(chapter.lines), "drawing": name})
    data = {
        "title": dossier.title,
        "day": dossier.written_on,
        "facts": _facts(dossier.identity),
        "chapters": chapters,
    }
    return _with_photos("dossier", data, pictures, dossier.photos)


def display_card(title: str, facts: Sequence[Fact], lines: Sequence[str]) -> bytes:
    """Print a card to stand beside the piece when it is shown."""
    return print_pdf("card", {"title": title, "facts": _facts(facts), "lines": list(lines)})


def _facts(facts: Sequence[Fact]) -> list[dict[str, str]]:
    return [{"label": f.label, "value": f.value} for f in facts]


def _with_photos(
    template: str, data: dict[str, Any], pictures: dict[str, bytes], photos: Sequence[Picture]
) -> bytes:
    """Print with photos; one that is damaged must not cost the whole sheet."""
    named = {}
    shown = []
    for number, photo in enumerate(photos):
        file = picture_name(f"photo-{number}", photo.data)
        if file:
            named[file] = photo.data
            shown.append({"file": file, "caption": photo.caption})
    try:
        return print_pdf(template, {**data, "photos": shown}, {**pictures, **named})
    except InputError:
        return print_pdf(template, {**data, "photos": []}, pictures)
