"""The page of clocks and slip of a piece."""

from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from outshop.errors import InputError, NotationError
from outshop.pages import fields, lookup
from outshop.pages.clocks import form as forms
from outshop.pages.clocks.answers import Answer, answer
from outshop.railway.scales import Scale, scale
from outshop.records.models import Piece, Recording
from outshop.records.queries.clocks import kept_clocks
from outshop.records.services.clocks import keep_clocks, remove_clocks

MOST_RECORDINGS = 60  # offered for choice, the latest


@require_safe
def show(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the form, with the latest clip and sound chosen, and what is on record."""
    piece = lookup.piece(pk)
    return render(request, "clocks/clocks.html", _context(piece, {}, _fresh(request, piece)))


@require_POST
def say(request: HttpRequest, pk: int) -> HttpResponse:
    """Say what the clocks mean together, and keep it if that was asked for."""
    piece = lookup.piece(pk)
    typed = {n: request.POST.get(n, "").strip()[: forms.LONGEST_CELL] for n in forms.names()}
    typed = {name: text for name, text in typed.items() if text}
    recordings = _recordings(piece)
    form = forms.RunForm(request.POST, recordings=recordings)
    found, problem = _found(piece, typed, form, recordings)
    if request.POST.get("keep") and found is not None:
        keep_clocks(
            piece=piece, readings=found.readings(), result={**found.as_json(), "typed": typed},
            token=fields.form_token(request),
        )  # fmt: skip
        messages.success(request, _("Kept with the piece."), extra_tags="done")
        return redirect("clocks", pk)
    if request.POST.get("keep") and not problem and form.is_valid():
        problem = _("Nothing is filled in yet.")
    if fields.wants_part(request):
        context = {"answer": found, "problem": problem, "form": form}
        return render(request, "clocks/_answer.html", context)
    context = _context(piece, typed, form) | {"answer": found, "problem": problem}
    status = 400 if problem or form.errors else 200
    return render(request, "clocks/clocks.html", context, status=status)


@require_POST
def forget(request: HttpRequest, pk: int) -> HttpResponse:
    """Take readings back that were kept by a slip of the hand."""
    remove_clocks(piece=lookup.piece(pk), pks=fields.chosen_keys(request))
    return redirect("clocks", pk)


def on_piece_page(piece: Piece) -> dict[str, Any]:
    """Give what the piece's page shows: the latest readings."""
    kept = kept_clocks(piece, 1)
    return {"latest": kept[0] if kept else None}


def _found(
    piece: Piece, typed: Mapping[str, str], form: forms.RunForm, recordings: list[Recording]
) -> tuple[Answer | None, str]:
    if not form.is_valid():
        return None, ""
    by_key = {str(r.pk): r for r in recordings}
    cleaned = form.cleaned_data
    try:
        found = answer(
            typed, cleaned, clip=by_key.get(cleaned["clip"]), sound=by_key.get(cleaned["sound"]),
            scale=_scale(piece),
        )  # fmt: skip
    except InputError as problem:
        return None, str(problem)
    return found, ""


def _fresh(request: HttpRequest, piece: Piece) -> forms.RunForm:
    recordings = _recordings(piece)
    initial = {
        "wheel_mm": (piece.known_drive or {}).get("wheel_diameter_mm"),
        "clip": request.GET.get("clip", ""),
        "sound": request.GET.get("sound", ""),
    }
    return forms.RunForm(initial=initial, recordings=recordings)


def _recordings(piece: Piece) -> list[Recording]:
    return list(piece.recordings.filter(status=Recording.Status.DONE)[:MOST_RECORDINGS])


def _context(piece: Piece, typed: Mapping[str, str], form: forms.RunForm) -> dict[str, Any]:
    return {
        "piece": piece,
        "form": form,
        "lines": forms.lines_of(typed),
        "more": any(line.way or line.times for line in forms.lines_of(typed)[1:]),
        "kinds": forms.KINDS,
        "kept": kept_clocks(piece),
        "scale": _scale(piece),
    }


def _scale(piece: Piece) -> Scale | None:
    try:
        return scale(piece.known_scale) if piece.known_scale else None
    except NotationError:
        return None


urlpatterns = [
    path("piece/<int:pk>/clocks/", show, name="clocks"),
    path("piece/<int:pk>/clocks/say/", say, name="clocks_say"),
    path("piece/<int:pk>/clocks/forget/", forget, name="clocks_forget"),
]
