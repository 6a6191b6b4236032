"""The speed table of a piece."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from outshop.bench.motion.speed_rows import SpeedRows, read_speed_rows
from outshop.bench.motion.speed_table import SpeedTable, measure
from outshop.bench.motion.speed_typed import COLUMNS, typed_rows
from outshop.errors import InputError, NotationError
from outshop.pages import fields, lookup
from outshop.pages.speeds import form as forms
from outshop.pages.speeds import shown
from outshop.railway.scales import Scale, scale
from outshop.records.models import Piece, Recording
from outshop.records.queries.speed_tables import before_and_after_tables, speed_tables
from outshop.records.services.speed_tables import keep_speed_table, remove_speed_table

OLD_SHOWN = 12


@require_safe
def show(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the latest table, what changed by the work, and the form for another."""
    piece = lookup.piece(pk)
    kept = speed_tables(piece)
    typed = dict(kept[0].typed) if kept else {}
    # the settings again, not the readings
    asked = {name: text for name, text in typed.items() if not name.startswith("c")}
    lines = forms.lines_for(asked)
    sent = Sent(asked, lines, forms.TableForm(initial=asked | _role(kept)))
    return render(request, "speeds/speeds.html", _context(piece, sent))


@require_POST
def say(request: HttpRequest, pk: int) -> HttpResponse:
    """Say what the runs mean, and keep them if that was asked for."""
    piece = lookup.piece(pk)
    typed, lines = forms.typed_of(request), forms.lines_of(request)
    if request.POST.get("more"):
        sent = Sent(typed, min(lines + forms.MORE, forms.MOST_LINES), forms.TableForm(request.POST))
        return render(request, "speeds/speeds.html", _context(piece, sent))
    sent = _measured(request, piece, Sent(typed, lines, forms.TableForm(request.POST)))
    if request.POST.get("keep") and sent.table is not None:
        cleaned = sent.form.cleaned_data
        keep_speed_table(
            piece=piece, table=sent.table, role=cleaned["role"], nominal=cleaned["nominal"],
            full_size_km_h=cleaned["full_size_km_h"], typed=typed, token=fields.form_token(request),
        )  # fmt: skip
        messages.success(request, _("Kept with the piece."), extra_tags="done")
        return redirect("speeds", pk)
    if request.POST.get("keep") and not sent.problem and sent.form.is_valid():
        sent = sent.wrong(_("Nothing is filled in yet."))
    if fields.wants_part(request):
        answer = shown.show(sent.table) if sent.table else None
        context = {"shown": answer, "problem": sent.problem, "form": sent.form}
        return render(request, "speeds/_answer.html", context)
    status = 400 if sent.problem or sent.form.errors else 200
    return render(request, "speeds/speeds.html", _context(piece, sent), status=status)


@require_POST
def forget(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a table back that was kept by a slip."""
    remove_speed_table(piece=lookup.piece(pk), pks=fields.chosen_keys(request))
    return redirect("speeds", pk)


def on_piece_page(piece: Piece) -> dict[str, Any]:
    """Give what the piece's page shows: the latest table in short."""
    kept = speed_tables(piece, 1)
    if not kept:
        return {"latest": None}
    figures = kept[0].table.readings()
    told = [
        (shown.figure_name(key), figures[f"{key}_{way}"])
        for way in list(kept[0].table.ways)[:1]
        for key in ("start", "creep", "top")
    ]
    return {"latest": kept[0], "told": told, "verdict": kept[0].table.verdict}


@dataclass(frozen=True, slots=True)
class Sent:
    """What was sent, and what became of it."""

    typed: Mapping[str, str]
    lines: int
    form: forms.TableForm
    table: SpeedTable | None = None
    problem: str = ""

    def wrong(self, problem: str) -> "Sent":
        """Give the same with the sentence that says what is wrong."""
        return Sent(self.typed, self.lines, self.form, None, problem)


def _measured(request: HttpRequest, piece: Piece, sent: Sent) -> Sent:
    if not sent.form.is_valid():
        return sent
    cleaned = sent.form.cleaned_data
    of = _scale(piece)
    try:
        rows = _rows(request, sent, of)
        if rows is None:
            return sent
        table = measure(
            rows,
            scale=of,
            full_size_km_h=cleaned["full_size_km_h"],
            nominal=cleaned["nominal"],
        )
    except InputError as problem:
        return sent.wrong(str(problem))
    return Sent(sent.typed, sent.lines, sent.form, table)


def _rows(request: HttpRequest, sent: Sent, of: Scale | None) -> SpeedRows | None:
    cleaned = sent.form.cleaned_data
    file = request.FILES.get("table")
    if file is not None and not fields.wants_part(request):
        if (file.size or 0) > forms.LARGEST_FILE:
            raise InputError(_("This file is too large for a table of bench runs."))
        return read_speed_rows(file.read(), scale=of, way_mm=cleaned["way_mm"])
    return typed_rows(
        forms.typed_lines(sent.typed, sent.lines),
        unit=cleaned["unit"],
        holds=cleaned["holds"],
        way_mm=cleaned["way_mm"],
        scale=of,
    )


def _context(piece: Piece, sent: Sent) -> dict[str, Any]:
    kept = speed_tables(piece)
    before, after = before_and_after_tables(piece)
    earlier = before.table if before and kept and kept[0] != before else None
    return {
        "piece": piece,
        "form": sent.form,
        "grid": forms.grid(sent.typed, sent.lines),
        "lines": sent.lines,
        "columns": [forms.column_name(*c) for c in COLUMNS],
        "answer": shown.show(sent.table) if sent.table else None,
        "problem": sent.problem,
        "latest": kept[0] if kept else None,
        "shown": shown.show(kept[0].table, earlier) if kept else None,
        "earlier": earlier is not None,
        "kept": kept[:OLD_SHOWN],
        "change": shown.change(before, after),
        "scale": _scale(piece),
        "open": sent.form.is_bound or not kept,
    }


def _role(kept: list[Any]) -> dict[str, str]:
    """Offer what is probably being done: before first, then after."""
    has_before = any(k.role == Recording.Role.BEFORE for k in kept)
    return {"role": Recording.Role.AFTER if has_before else Recording.Role.BEFORE}


def _scale(piece: Piece) -> Scale | None:
    try:
        return scale(piece.known_scale) if piece.known_scale else None
    except NotationError:
        return None


urlpatterns = [
    path("piece/<int:pk>/speeds/", show, name="speeds"),
    path("piece/<int:pk>/speeds/say/", say, name="speeds_say"),
    path("piece/<int:pk>/speeds/forget/", forget, name="speeds_forget"),
]
