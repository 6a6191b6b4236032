"""Papers around a piece: claims report, insurance schedule, dossier, display card."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from outshop.errors import InputError
from outshop.reports.printing import picture_name, print_pdf
from outshop.reports.sheet import Fact


@dataclass(frozen=True, slots=True)
class ClaimLine:
    """A claim, its verdict in words, and the evidence."""

    claim: str
    verdict: str
    because: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ScheduleLine:
    """One piece of a schedule; an empty value means that none is known."""

    name: str
    value: str


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
    photos: tuple[bytes, ...] = field(default=())


def claims_report(
    title: str, facts: Sequence[Fact], claims: Sequence[ClaimLine], deadline: str, day: str
) -> bytes:
    """Print claims beside findings, politely and factually."""
    return print_pdf(
        "claims",
        {
            "title": title,
            "day": day,
            "facts": _facts(facts),
            "claims": [
                {"claim": c.claim, "verdict": c.verdict, "because": list(c.because)} for c in claims
            ],
            "deadline": deadline,
        },
    )


def schedule_sheet(
    basis: str, groups: Sequence[ScheduleGroup], total: str, unvalued: Sequence[str], day: str
) -> bytes:
    """Print the schedule by place; with an empty ``total`` no value is printed at all."""
    return print_pdf(
        "schedule",
        {
            "basis": basis,
            "day": day,
            "total": total,
            "groups": [
                {
                    "place": g.place,
                    "total": g.total,
                    "lines": [{"name": line.name, "value": line.value} for line in g.lines],
                }
                for g in groups
            ],
            "unvalued": list(unvalued),
        },
    )


def dossier_sheet(dossier: Dossier) -> bytes:
    """Print the dossier; a photo that cannot be printed is left out."""
    pictures: dict[str, bytes] = {}
    chapters = []
    for number, chapter in enumerate(dossier.chapters):
        name = f"drawing-{number}.svg" if chapter.svg else None
        if name:
            pictures[name] = chapter.svg.encode()
        chapters.append({"title": chapter.title, "lines": list(chapter.lines), "drawing": name})
    photos = {}
    for number, photo in enumerate(dossier.photos):
        file = picture_name(f"photo-{number}", photo)
        if file:
            photos[file] = photo
    data = {
        "title": dossier.title,
        "day": dossier.written_on,
        "facts": _facts(dossier.identity),
        "chapters": chapters,
    }
    try:
        return print_pdf("dossier", {**data, "photos": list(photos)}, {**pictures, **photos})
    except InputError:  # a damaged picture must not cost the whole dossier
        return print_pdf("dossier", {**data, "photos": []}, pictures)


def display_card(title: str, facts: Sequence[Fact], lines: Sequence[str]) -> bytes:
    """Print a card to stand beside the piece when it is shown."""
    return print_pdf("card", {"title": title, "facts": _facts(facts), "lines": list(lines)})


def _facts(facts: Sequence[Fact]) -> list[dict[str, str]]:
    return [{"label": f.label, "value": f.value} for f in facts]
