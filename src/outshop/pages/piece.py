"""A piece: its page, entering and editing it, its photos."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.utils.translation import gettext as _
from django.views.decorators.http import (
    require_GET,
    require_http_methods,
    require_POST,
    require_safe,
)

from outshop.errors import ConflictError, InputError, NotationError
from outshop.pages import axle_drawing, fields, lookup
from outshop.pages.piece_form import PieceForm, initial_of
from outshop.pages.piece_parts import sections_of
from outshop.pages.piece_state import following
from outshop.railway import arrangement as arrangements
from outshop.records import queries, services
from outshop.records.models import Edition, Piece


@require_safe
def show(request: HttpRequest, pk: int) -> HttpResponse:
    """Show everything about a piece on one long page."""
    piece = queries.piece_page(pk)
    ran = queries.running_minutes(piece) / 60
    context = {
        "piece": piece,
        "sections": sections_of(piece),
        "following": following(piece),
        "ran_hours": f"{ran:.1f}" if ran >= 0.05 else "",
    }
    return render(request, "piece/piece.html", context)


@require_http_methods(["GET", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    """Enter a piece."""
    form = PieceForm(
        request.POST or None, initial={"kind": Piece.Kind.STEAM, "state": Piece.State.ARRIVED}
    )
    if request.method == "POST" and form.is_valid():
        piece = _added(form, fields.form_token(request))
        return redirect("piece", piece.pk)
    return _form_page(request, form, None)


@require_http_methods(["GET", "POST"])
def edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a piece; what another window changed meanwhile is never overwritten unseen."""
    piece = lookup.piece(pk)
    if request.method != "POST":
        return _form_page(request, PieceForm(initial=initial_of(piece)), piece)
    form = PieceForm(request.POST)
    version = request.POST.get("version", "")
    if not version.isdecimal():
        raise InputError(_("The form was incomplete: load the page again and send it once more."))
    if not form.is_valid() or request.POST.get("look"):
        return _form_page(request, form, piece, version=int(version))
    try:
        _changed(piece, form, int(version))
    except ConflictError as problem:
        context = {
            "piece": piece,
            "form": form,
            "version": lookup.piece(pk).version,
            "problem": str(problem),
            "differences": problem.differences,
        }
        return render(request, "piece/conflict.html", context, status=409)
    return redirect("piece", piece.pk)


@require_GET
def preview(request: HttpRequest) -> HttpResponse:
    """Draw a wheel arrangement while it is typed."""
    return render(
        request, "piece/_preview.html", {"preview": _preview(request.GET.get("arrangement", ""))}
    )


@require_POST
def add_photo(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep a photo of the piece."""
    piece = lookup.piece(pk)
    file = fields.uploaded(request)
    services.add_photo(
        piece=piece, source=file.source, name=file.name, token=fields.form_token(request)
    )
    return redirect(f"{lookup.address(piece)}#identity")


@services.use_case
def _added(form: PieceForm, token: str) -> Piece:
    edition, drive = _edition(form, None), form.drive()
    own = _own_drive(edition, drive, {})
    return services.add_piece(token=token, edition=edition, drive=own, **form.plain())


@services.use_case
def _changed(piece: Piece, form: PieceForm, version: int) -> Piece:
    edition, drive = _edition(form, piece), _drive(form, piece)
    own = piece.drive
    if drive != piece.known_drive:
        own = _own_drive(edition, drive, edition.drive if edition else {})
    return services.change_piece(
        piece=piece, version=version, edition=edition, drive=own, **form.plain()
    )


def _own_drive(
    edition: Edition | None, drive: dict[str, Any], kept: dict[str, Any]
) -> dict[str, Any]:
    """Give the drive to the edition, so that its next piece has it; without one, to the piece."""
    if edition is None:
        return drive
    if drive != kept:
        services.change_edition(edition=edition, drive=drive)
    return {}


def _drive(form: PieceForm, piece: Piece) -> dict[str, Any]:
    """Keep a ratio that was entered alone: this form does not ask for it."""
    typed, ratio = form.drive(), piece.known_drive.get("ratio")
    return typed | {"ratio": ratio} if ratio and "stages" not in typed else typed


def _edition(form: PieceForm, piece: Piece | None) -> Edition | None:
    """Give the edition that was typed: the one on record, or a new one."""
    typed = form.edition()
    if not typed:
        return None
    present = piece.edition if piece else None
    if present and all(getattr(present, name) == text for name, text in typed.items()):
        return present
    known = Edition.objects.filter(**typed).first()
    return known or services.add_edition(**typed)


def _form_page(
    request: HttpRequest, form: PieceForm, piece: Piece | None, *, version: int | None = None
) -> HttpResponse:
    typed = form["arrangement"].value() or ""
    context: dict[str, Any] = {
        "form": form,
        "piece": piece,
        "version": version if version is not None else (piece.version if piece else 1),
        "preview": _preview(str(typed)),
    }
    status = 400 if form.is_bound and form.errors else 200
    return render(request, "piece/form.html", context, status=status)


def _preview(text: str) -> dict[str, Any]:
    """Give the drawing of an arrangement with what it was understood as, or what is wrong."""
    if not text.strip():
        return {}
    try:
        read = arrangements.parse(text, hauled=True)
    except NotationError as problem:
        return {"problem": str(problem)}
    whyte = arrangements.to_whyte(read)
    said = _("Read as %(uic)s, %(driven)d of %(all)d axles driven") % {
        "uic": read.uic,
        "driven": read.driven_axles,
        "all": len(read.axles),
    }
    words = [said + (f" ({whyte})" if whyte else ""), *read.notes]
    return {"drawing": axle_drawing.drawing(text, {}), "words": "; ".join(words) + "."}


urlpatterns = [
    path("piece/new/", new, name="piece_new"),
    path("piece/preview/", preview, name="arrangement_preview"),
    path("piece/<int:pk>/", show, name="piece"),
    path("piece/<int:pk>/edit/", edit, name="piece_edit"),
    path("piece/<int:pk>/photo/", add_photo, name="photo_add"),
]
