"""Entering and changing evidence, prototype events and research notes."""

from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from outshop.errors import InputError
from outshop.pages import fields, lookup
from outshop.pages.dating.forms import (
    EventForm,
    EvidenceForm,
    PrototypeForm,
    ResearchForm,
    initial_of,
)
from outshop.pages.dating.years import page
from outshop.records import services
from outshop.records.models import EditionFeature, Evidence, LifeEvent, Piece, ResearchNote
from outshop.records.queries import dating as queries

SHOWN_TRUST = 0.9  # chance that owner, number or livery of the model is meant as it is; judgement


@require_POST
def add_evidence(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep one evidence."""
    piece, form = lookup.piece(pk), EvidenceForm(request.POST)
    if not form.is_valid():
        return _again(request, piece, evidence_form=form)
    services.add_evidence(piece=piece, token=fields.form_token(request), **form.plain())
    return _back(piece, "evidence")


@require_http_methods(["GET", "POST"])
def edit_evidence(request: HttpRequest, pk: int) -> HttpResponse:
    """Change one evidence."""
    evidence = lookup.one(Evidence.objects.select_related("piece"), pk)
    form = EvidenceForm(request.POST or None, initial=initial_of(evidence))
    if request.method == "POST" and form.is_valid():
        services.change_evidence(evidence=evidence, version=_version(request), **form.plain())
        return _back(evidence.piece, "evidence")
    context = {"piece": evidence.piece, "record": evidence, "form": form, "title": evidence.what}
    return render(request, "dating/edit.html", context, status=400 if form.errors else 200)


@require_POST
def add_photo(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep a photo that shows the evidence."""
    evidence = lookup.one(Evidence.objects.select_related("piece"), pk)
    sent = fields.uploaded(request)
    photo = services.add_photo(
        piece=evidence.piece,
        source=sent.source,
        name=sent.name,
        caption=evidence.what,
        token=fields.form_token(request),
    )
    services.change_evidence(evidence=evidence, photo=photo)
    return redirect("evidence_edit", pk)


@require_POST
def add_research_photo(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep a photo that belongs to a question: a page, a plate, a detail."""
    note = lookup.one(ResearchNote.objects.select_related("piece"), pk)
    sent = fields.uploaded(request)
    photo = services.add_photo(
        piece=note.piece,
        source=sent.source,
        name=sent.name,
        caption=note.question,
        token=fields.form_token(request),
    )
    services.change_research(note=note, photo=photo)
    return redirect("research_edit", pk)


@require_POST
def add_shown(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep what the model shows of something that the prototype changed in its life."""
    piece = lookup.piece(pk)
    kind, value = request.POST.get("kind", ""), request.POST.get("value", "")
    window = queries.window_of(piece, kind, value)
    if not window:
        message = "the prototype's life knows no such thing: load the page again"
        raise InputError(message)
    services.add_evidence(
        piece=piece,
        token=fields.form_token(request),
        about=Evidence.About.PROTOTYPE,
        part=kind,
        what=f"{kind}: {value}",
        window=window,
        trust=SHOWN_TRUST,
        source=", ".join(queries.sources_of(piece, kind, value)),
        feature=kind,
        variant=value,
    )
    return _back(piece, "prototype")


@require_POST
def remove_evidence(request: HttpRequest, pk: int) -> HttpResponse:  # noqa: ARG001 - a view
    """Take one evidence back."""
    evidence = lookup.one(Evidence.objects.select_related("piece"), pk)
    services.remove_evidence(evidence=evidence)
    return _back(evidence.piece, "evidence")


@require_POST
def add_seen(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep that a feature of the edition's table looks so on this piece."""
    piece = lookup.piece(pk)
    row = (
        EditionFeature.objects.filter(
            edition=piece.edition,
            feature=request.POST.get("feature", ""),
            variant=request.POST.get("variant", ""),
        ).first()
        if piece.edition
        else None
    )
    if row is None:
        message = "the edition's table knows no such feature: load the page again"
        raise InputError(message)
    services.add_evidence(
        piece=piece,
        token=fields.form_token(request),
        about=Evidence.About.EDITION,
        part=row.part,
        what=f"{row.feature}: {row.variant}",
        window=row.window,
        trust=row.trust,
        source=row.source,
        feature=row.feature,
        variant=row.variant,
    )
    return _back(piece, "next-look")


@require_POST
def prototype(request: HttpRequest, pk: int) -> HttpResponse:
    """Name the full-size engine, or correct it."""
    piece, form = lookup.piece(pk), PrototypeForm(request.POST)
    if not form.is_valid():
        return _again(request, piece, prototype_form=form)
    _keep_prototype(piece, form.cleaned_data, fields.form_token(request))
    return _back(piece, "prototype")


@services.use_case
def _keep_prototype(piece: Piece, typed: dict[str, Any], token: str) -> None:
    if piece.prototype:
        services.change_prototype(prototype=piece.prototype, **typed)
    else:
        made = services.add_prototype(token=token, **typed)
        services.change_piece(piece=piece, prototype=made)


@require_POST
def add_event(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep an event of the prototype's life."""
    piece, form = lookup.piece(pk), EventForm(request.POST)
    if piece.prototype is None:
        message = "name the prototype first: an event belongs to one"
        raise InputError(message)
    if not form.is_valid():
        return _again(request, piece, event_form=form)
    services.add_life_event(
        prototype=piece.prototype, token=fields.form_token(request), **form.cleaned_data
    )
    return _back(piece, "prototype")


@require_POST
def remove_event(request: HttpRequest, pk: int) -> HttpResponse:
    """Take an event back."""
    event = lookup.one(LifeEvent.objects.select_related("prototype"), pk)
    services.remove_life_event(event=event)
    piece = event.prototype.pieces.filter(pk=request.POST.get("piece") or 0).first()
    return _back(piece, "prototype") if piece else redirect("shelf")


@require_POST
def add_research(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep a question."""
    piece, form = lookup.piece(pk), ResearchForm(request.POST)
    if not form.is_valid():
        return _again(request, piece, research_form=form)
    services.add_research(piece=piece, token=fields.form_token(request), **form.cleaned_data)
    return _back(piece, "research")


@require_http_methods(["GET", "POST"])
def edit_research(request: HttpRequest, pk: int) -> HttpResponse:
    """Change a question, or settle it."""
    note = lookup.one(ResearchNote.objects.select_related("piece"), pk)
    names = ("question", "source", "finding", "would_settle", "settled")
    form = ResearchForm(request.POST or None, initial={n: getattr(note, n) for n in names})
    if request.method == "POST" and form.is_valid():
        services.change_research(note=note, version=_version(request), **form.cleaned_data)
        return _back(note.piece, "research")
    context = {"piece": note.piece, "record": note, "form": form, "title": note.question}
    return render(request, "dating/edit.html", context, status=400 if form.errors else 200)


@require_POST
def remove_research(request: HttpRequest, pk: int) -> HttpResponse:  # noqa: ARG001 - a view
    """Take a question back."""
    note = lookup.one(ResearchNote.objects.select_related("piece"), pk)
    services.remove_research(note=note)
    return _back(note.piece, "research")


def _version(request: HttpRequest) -> int | None:
    version = request.POST.get("version", "")
    return int(version) if version.isdecimal() else None


def _back(piece: Piece, place: str) -> HttpResponse:
    return redirect(f"{reverse('years', args=[piece.pk])}#{place}")


def _again(request: HttpRequest, piece: Piece, **sent: forms.Form) -> HttpResponse:
    return render(request, "dating/years.html", page(piece, **sent), status=400)
