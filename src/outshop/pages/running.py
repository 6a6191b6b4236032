"""The running log: by tap, or by the QR code on the box."""

from typing import Any
from uuid import UUID

import segno
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path, reverse
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from outshop.errors import InputError, MissingError
from outshop.pages import fields, lookup
from outshop.records import queries, services
from outshop.records.models import Piece, RunningLog
from outshop.reports import labels
from outshop.workshop.running_log import check_minutes

QUICK = (5, 10, 15, 25, 40, 60)  # minutes on the buttons
SHOWN = 15  # entries on the page
LABELS_AT_ONCE = 240  # ten sheets


@require_safe
def ran(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Show the big buttons; this is where the QR code on the box leads."""
    return _page(request, _piece(uid))


@require_POST
def tap(request: HttpRequest, uid: UUID) -> HttpResponse:
    """Note minutes run."""
    piece = _piece(uid)
    typed = request.POST.get("quick") or request.POST.get("minutes", "")
    try:
        minutes = check_minutes(fields.number_or_none(typed, _("Minutes")) or 0.0)
    except InputError as problem:
        return _page(request, piece, problem=str(problem), typed=typed, status=400)
    entry = services.tap_running(
        piece=piece, minutes=minutes, note=request.POST.get("note", "")[:2000],
        token=fields.form_token(request),
    )  # fmt: skip
    noted = _("Noted: %(n)g minutes.") % {"n": entry.minutes}
    messages.success(request, noted, extra_tags="done")
    return redirect("ran", uid)


@require_POST
def undo(_request: HttpRequest, pk: int) -> HttpResponse:
    """Take an entry back."""
    entry = lookup.one(RunningLog.objects.select_related("piece"), pk)
    piece = entry.piece
    services.remove_running(entry=entry)
    return redirect("ran", piece.uid)


@require_safe
def box_labels(request: HttpRequest) -> HttpResponse:
    """Give a sheet of labels for the boxes, each with its QR code, as PDF."""
    pieces = Piece.objects.exclude(state__in=(Piece.State.WANTED, Piece.State.SOLD))
    chosen = request.GET.get("piece", "")
    if chosen.isdecimal():
        pieces = pieces.filter(pk=int(chosen))
    sheet = [
        labels.Label(
            str(piece), (piece.known_scale, piece.known_arrangement, piece.place),
            request.build_absolute_uri(reverse("ran", args=[piece.uid])),
        )
        for piece in pieces.select_related("edition")[:LABELS_AT_ONCE]
    ]  # fmt: skip
    return _pdf(labels.label_sheet(sheet, kind=_("Box labels")), "box-labels")


def qr_code(address: str) -> SafeString:
    """Draw the QR code of an address."""
    # Dark on white by night as well: many readers cannot take an inverted code.
    svg = segno.make(address, error="m").svg_inline(dark="#17262b", border=2, omitsize=True)
    return mark_safe(svg)  # noqa: S308 - made of squares only


def _pdf(data: bytes, name: str) -> HttpResponse:
    answer = HttpResponse(data, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    return answer


def _piece(uid: UUID) -> Piece:
    piece = Piece.objects.select_related("edition", "cover__media").filter(uid=uid).first()
    if piece is None:
        raise MissingError(_("This label belongs to no piece here: it may have been removed."))
    return piece


def _page(
    request: HttpRequest, piece: Piece, *, problem: str = "", typed: str = "", status: int = 200
) -> HttpResponse:
    address = request.build_absolute_uri(reverse("ran", args=[piece.uid]))
    context: dict[str, Any] = {
        "piece": piece,
        "quick": QUICK,
        "entries": piece.running_log.all()[:SHOWN],
        "ran": queries.running_minutes(piece),
        "qr": qr_code(address),
        "problem": problem,
        "typed": typed,
    }
    return render(request, "running/ran.html", context, status=status)


urlpatterns = [
    path("ran/<uuid:uid>/", ran, name="ran"),
    path("ran/<uuid:uid>/tap/", tap, name="ran_tap"),
    path("ran/entry/<int:pk>/undo/", undo, name="ran_undo"),
    path("care/labels.pdf", box_labels, name="ran_labels"),
]
