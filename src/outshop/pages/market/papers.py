"""Printed papers: claims, schedule, dossier, card, labels."""

from contextlib import suppress
from typing import Any
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.utils.text import slugify
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from outshop.errors import OutshopError
from outshop.market.claims import days_left
from outshop.market.schedule import Item, make_schedule
from outshop.media import picture
from outshop.pages import lookup, words
from outshop.pages.dating import years
from outshop.pages.market.values import chosen
from outshop.records import store, thumbnails
from outshop.records.models import Lot, MediaFile, Photo, Piece
from outshop.records.queries import market as queries
from outshop.records.queries import papers as texts
from outshop.reports import papers
from outshop.reports.history import Point, history_chart
from outshop.reports.labels import Label, label_sheet
from outshop.reports.sheet import Fact
from outshop.reports.spoken_dates import in_words

MOST_WORDS = 1000  # characters
MOST_PHOTOS = 6
MOST_DOSSIER_PHOTOS = 12
MOST_COVERS = 300  # small photos on a schedule; more would make a file too large to send
PHOTO_SIDE = 1200  # pixels, sharp at 10 cm


@require_safe
def claims(request: HttpRequest, pk: int) -> HttpResponse:  # noqa: ARG001 - a view
    """Print what was promised beside what was found."""
    lot = lookup.one(Lot.objects.select_related("piece"), pk)
    lines = [papers.ClaimLine(j.claim, str(j.verdict), j.because) for j in queries.claims_of(lot)]
    facts = [
        Fact(_("Offered by"), lot.seller or "-"),
        Fact(_("Lot"), lot.number or "-"),
        Fact(_("Arrived"), str(lot.piece.arrived_on or "-") if lot.piece else "-"),
        Fact(_("Return until"), str(lot.return_by or "-")),
    ]
    today = timezone.localdate()
    deadline = days_left(lot.return_by, today) if lot.return_by else ""
    report = papers.ClaimsReport(
        lot.title,
        tuple(facts),
        tuple(lines),
        tuple(_measured(lot.piece)) if lot.piece else (),
        deadline.capitalize(),
        today.isoformat(),
        (*_lot_photos(lot), *(_photos(lot.piece) if lot.piece else ())),
    )
    return _pdf(papers.claims_report(report), f"{lot.title}-claims")


@require_safe
def schedule(request: HttpRequest) -> HttpResponse:
    """Print the schedule; ``?private=1`` leaves values out."""
    basis, code = chosen(request)
    made = make_schedule(queries.schedule_items(code), basis)
    private = bool(request.GET.get("private"))
    covers = _covers()

    def money(amount: object) -> str:
        return "" if private or amount is None else f"{amount:.2f} {code}"

    groups = [
        papers.ScheduleGroup(
            place,
            tuple(
                papers.ScheduleLine(i.name, money(i.value(basis)), covers.get(i.key, b""))
                for i in items
            ),
            money(total if any(i.value(basis) is not None for i in items) else None),
        )
        for place, items, total in made.places
    ]
    day = timezone.localdate().isoformat()
    unvalued = () if private else made.unvalued
    pdf = papers.schedule_sheet(f"{basis} value", groups, money(made.total), unvalued, day)
    return _pdf(pdf, "schedule")


@require_safe
def heirs(request: HttpRequest) -> HttpResponse:
    """Print what heirs need to know; whom to ask is typed for the print and not kept."""
    basis, code = chosen(request)
    made = make_schedule(queries.schedule_items(code), basis)
    ask = request.GET.get("ask", "").strip()[:MOST_WORDS]
    day = timezone.localdate().isoformat()
    count = sum(len(items) for _place, items, _total in made.places)
    there = {"n": count, "places": len(made.places)}
    worth = {"total": made.total, "code": code, "basis": basis, "none": len(made.unvalued)}
    said = [
        _("There are %(n)d pieces, at %(places)d places.") % there,
        _("Valued at %(total).2f %(code)s in all (%(basis)s value); %(none)d have none.") % worth,
        _("Do not run or clean anything before somebody who knows has looked at it."),
        _("Boxes and papers belong to the pieces: keep them together."),
        _("Old transformers and brittle wires can be dangerous: do not plug them in."),
        _("Whom to ask: %(ask)s") % {"ask": ask or _("not written down")},
    ]
    places = [
        papers.Chapter(place, tuple(_worth(i, basis, code) for i in items))
        for place, items, _total in made.places
    ]
    chapters = (papers.Chapter(_("In short"), tuple(said)), *places)
    title = _("The collection: what, where, worth")
    sheet = papers.Dossier(title, (Fact(_("Day"), day),), chapters, day)
    return _pdf(papers.dossier_sheet(sheet), "for-those-who-come-after")


def _worth(item: Item, basis: str, code: str) -> str:
    value = item.value(basis)
    return item.name if value is None else f"{item.name}: {value:.2f} {code}"


@require_safe
def dossier(request: HttpRequest, pk: int) -> HttpResponse:
    """Print everything on a piece; ``?private=1`` leaves values and places out."""
    piece = lookup.piece(pk)
    private = bool(request.GET.get("private"))
    shown = years.page(piece)
    chapters = [
        papers.Chapter(_("Condition"), tuple(texts.condition_lines(piece))),
        *(
            papers.Chapter(f"{q.title}: {q.words}", (), str(q.drawing))
            for q in shown.get("questions", ())
        ),
        papers.Chapter(_("Reasoning"), tuple(_reasoning(shown))),
        papers.Chapter(_("Evidence"), tuple(texts.evidence_lines(piece))),
        papers.Chapter(_("The full-size engine"), tuple(texts.prototype_lines(piece))),
        papers.Chapter(_("Questions"), tuple(texts.research_lines(piece))),
        papers.Chapter(_("Measured"), tuple(_measured(piece))),
        *_histories(piece),
        papers.Chapter(_("Originals kept"), tuple(texts.original_lines(piece))),
        papers.Chapter(_("Work and running"), tuple(texts.service_lines(piece))),
        papers.Chapter(_("Value"), () if private else tuple(texts.value_lines(piece))),
    ]
    sheet = papers.Dossier(
        str(piece),
        tuple(_facts(piece, private=private)),
        tuple(c for c in chapters if c.lines or c.svg),
        timezone.localdate().isoformat(),
        tuple(_photos(piece, most=MOST_DOSSIER_PHOTOS)),
    )
    return _pdf(papers.dossier_sheet(sheet), f"{piece}-dossier")


@require_safe
def card(request: HttpRequest, pk: int) -> HttpResponse:  # noqa: ARG001 - a view
    """Print a card to stand beside the piece."""
    piece = lookup.piece(pk)
    dated = years.on_piece_page(piece)["lines"]
    lines = [f"{label} {span}." for label, span, _agrees in dated]
    lines += [piece.notes] if piece.notes else []
    pdf = papers.display_card(str(piece), list(_facts(piece, private=True))[:6], lines)
    return _pdf(pdf, f"{piece}-card")


@require_safe
def labels(request: HttpRequest) -> HttpResponse:
    """Print labels for boxes and shelves.

    ``?piece=3&piece=5`` chooses pieces, else all that are owned; ``?places=1`` prints the shelves
    and drawers instead; ``?sheet=65`` another sheet, ``?skip=5`` spares labels used before.
    """
    chosen_ones = [int(n) for n in request.GET.getlist("piece") if n.isdecimal()]
    pieces = Piece.objects.select_related("edition").exclude(
        state__in=(Piece.State.WANTED, Piece.State.SOLD)
    )
    if chosen_ones:
        pieces = pieces.filter(pk__in=chosen_ones)
    made = [
        Label(
            str(piece),
            (str(piece.edition or ""), piece.known_scale, piece.place),
            request.build_absolute_uri(lookup.address(piece)),
        )
        for piece in pieces
    ]
    if request.GET.get("places"):
        shelf = request.build_absolute_uri(reverse("shelf"))
        places = sorted({piece.place for piece in pieces if piece.place})
        made = [Label(place, (), f"{shelf}?{urlencode({'q': place})}") for place in places]
    skip = request.GET.get("skip", "")
    sheet = label_sheet(
        made, sheet=request.GET.get("sheet", "24"), skip=int(skip) if skip.isdecimal() else 0
    )
    return _pdf(sheet, "labels")


def _histories(piece: Piece) -> list[papers.Chapter]:
    """Draw each quantity that was measured on several days."""
    chapters = []
    for key, readings in texts.measured_series(piece).items():
        title = words.quantity(key)
        points = [
            Point(timezone.localdate(m.taken_at), m.value, m.low, m.high)
            for m in readings
            if m.value is not None and m.low is not None and m.high is not None
        ]
        drawing = history_chart(points, readings[-1].unit, title)
        chapters.append(papers.Chapter(title, (), drawing))
    return chapters


def _reasoning(shown: dict[str, Any]) -> list[str]:
    """Say how the years follow from the evidence, and what speaks against them."""
    lines = []
    for q in shown.get("questions", ()):
        there = {"title": q.title, "core": q.core, "words": q.words}
        said = _("%(title)s: most likely %(core)s; %(words)s hold 95 %% of the probability.")
        lines.append(said % there)
        lines += [_("Does not fit unless set aside: %s.") % words_ for words_ in q.odd_sets]
        lines += [_("Cannot both be right: %s.") % words_ for words_ in q.clashes]
    if belonging := shown.get("belonging"):
        for h in belonging.histories:
            apart = _("%s comes from elsewhere") % h.odd_part
            what = apart if h.odd_part else _("All belong together")
            meaning = f" {h.reading.says}; {h.reading.settles}." if h.reading else ""
            lines.append(f"{what}: {h.probability:.0%}.{meaning}")
    return lines


def _facts(piece: Piece, *, private: bool) -> list[Fact]:
    pairs = [
        (_("Edition"), str(piece.edition or "")),
        (_("Scale"), piece.known_scale),
        (_("Arrangement"), piece.known_arrangement),
        (_("Kind"), str(piece.get_kind_display())),
        (_("Length"), f"{piece.length_mm:g} mm" if piece.length_mm else ""),
        (_("Mass"), f"{piece.mass_g:g} g" if piece.mass_g else ""),
        (_("Shows"), in_words(piece.shows)),
        (_("Place"), "" if private else piece.place),
    ]
    return [Fact(label, value) for label, value in pairs if value]


def _measured(piece: Piece) -> list[str]:
    return [
        f"{day}: {words.quantity(key)} {value}"
        for day, key, value in texts.measurement_lines(piece)
    ]


def _photos(piece: Piece, most: int = MOST_PHOTOS) -> list[papers.Picture]:
    """Give photos ready for paper, those at findings first, each with what it shows and its day."""
    photos = piece.photos.select_related("media", "finding")
    ordered = sorted(photos, key=lambda photo: photo.finding is None)
    return _printable([(photo.media.sha256, _caption(photo)) for photo in ordered[:most]])


def _caption(photo: Photo) -> str:
    day = f"{(photo.taken_at or photo.created_at):%Y-%m-%d}"
    return ", ".join(filter(None, (photo.caption or str(photo.finding or ""), day)))


def _lot_photos(lot: Lot) -> list[papers.Picture]:
    """Give the seller's own pictures."""
    files = lot.files.select_related("media").filter(media__kind=MediaFile.Kind.PICTURE)
    named = [(f.media.sha256, f.caption or _("Shown when it was offered")) for f in files]
    return _printable(named[: MOST_PHOTOS // 2])


def _printable(named: list[tuple[str, str]]) -> list[papers.Picture]:
    """Make the pictures small and without the place where they were taken; skip damaged ones."""
    found = []
    for sha256, words_ in named:
        with suppress(OutshopError, OSError):
            data = picture.thumbnail(store.path_of(sha256), PHOTO_SIDE).data
            found.append(papers.Picture(data, words_))
    return found


def _covers() -> dict[str, bytes]:
    """Give the small cover photo of each owned piece by its stable name."""
    pieces = Piece.objects.exclude(cover=None).values_list("uid", "cover__media__sha256")
    found = {}
    for uid, sha256 in pieces[:MOST_COVERS]:
        with suppress(OutshopError, OSError):
            found[str(uid)] = thumbnails.path_of(sha256).read_bytes()
    return found


def _pdf(data: bytes, name: str) -> HttpResponse:
    response = HttpResponse(data, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{slugify(name) or "paper"}.pdf"'
    return response
