"""The meter page of a piece."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django import forms
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path, reverse
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from outshop.bench.next_reading import NextReading, next_reading
from outshop.errors import InputError, NotationError
from outshop.pages import axle_drawing, fields, lookup
from outshop.pages.meter import keeping
from outshop.pages.meter.answers import Answer, answer
from outshop.pages.meter.forms import FORMS
from outshop.pages.meter.keeping import Kept
from outshop.pages.meter.topics import KEYS, TOPICS, Topic
from outshop.railway.scales import gauges, scale
from outshop.records.models import Piece
from outshop.reports.bench_form import bench_form
from outshop.reports.sheet import Fact

USUAL_SEGMENTS, SEGMENTS = 3, range(3, 14)


@dataclass(frozen=True, slots=True)
class Shown:
    """A topic as the page shows it."""

    topic: Topic
    form: forms.Form
    answer: Answer | None
    problem: str
    kept: list[Kept]
    drawing: SafeString
    axle: str
    chosen: bool = False

    @property
    def open(self) -> bool:
        """Whether the form stands open: something was typed or chosen in it."""
        return bool(self.form.is_bound or self.axle or self.chosen)


@require_safe
def show(request: HttpRequest, pk: int) -> HttpResponse:
    """Show every topic, with what is on record."""
    piece = lookup.piece(pk)
    return render(request, "meter/meter.html", _context(request, piece))


@require_POST
def say(request: HttpRequest, pk: int, topic: str) -> HttpResponse:
    """Say what was typed means, and keep it if that was asked for."""
    if topic not in KEYS:
        raise Http404
    piece = lookup.piece(pk)
    form = _form(topic, piece, request)
    found, problem = None, ""
    if form.is_valid():
        try:
            found = answer(topic, form.cleaned_data, piece)
        except InputError as trouble:
            problem = str(trouble)
    keeping_it = bool(request.POST.get("keep"))
    if keeping_it and found is not None:
        keeping.keep(
            piece=piece, topic=topic, answer=found, typed=_typed(request, form),
            log=form.cleaned_data.get("log"), token=fields.form_token(request),
        )  # fmt: skip
        messages.success(request, _("Kept with the piece."), extra_tags="done")
        return redirect(f"{reverse('meter', args=[pk])}#{topic}")
    if keeping_it and not problem and form.is_valid():
        problem = _("Nothing is filled in yet.")
    if fields.wants_part(request):
        since, changed = _since(piece, topic, found, request)
        context = {
            "answer": found, "problem": problem, "form": form, "since": since, "changed": changed,
        }  # fmt: skip
        return render(request, "meter/_answer.html", context)
    wrong = bool(problem or form.errors)
    context = _context(request, piece, topic=topic, form=form, found=found, problem=problem)
    return render(request, "meter/meter.html", context, status=400 if wrong else 200)


@require_POST
def forget(request: HttpRequest, pk: int) -> HttpResponse:
    """Take readings back that were kept by a slip."""
    piece = lookup.piece(pk)
    rows = piece.measurements.filter(
        pk__in=fields.chosen_keys(request), recording=None, kind__in=KEYS
    )
    keeping.forget(rows)
    return redirect("meter", pk)


@require_safe
def paper(_request: HttpRequest, pk: int) -> HttpResponse:
    """Give the form to fill in by pencil."""
    piece = lookup.piece(pk)
    facts = [
        Fact(_("Scale"), piece.known_scale or ""),
        Fact(_("Arrangement"), piece.known_arrangement or ""),
        Fact(_("Day"), ""),
    ]
    data = bench_form(
        title=str(piece),
        identity=[f for f in facts if f.value or f.label == _("Day")],
        segments=_segments(piece, None),
        axles=axle_drawing.labels(piece.known_arrangement),
        gauge_mm=_gauge(piece),
    )
    reply = HttpResponse(data, content_type="application/pdf")
    reply["Content-Disposition"] = 'inline; filename="bench-form.pdf"'
    return reply


def on_piece_page(piece: Piece) -> dict[str, Any]:
    """Give what the piece's page shows of the meter: the latest of each topic."""
    found = keeping.kept(piece, KEYS)
    return {
        "lines": [(t, found[t.key][0]) for t in TOPICS if t.key in found],
        "next": next_reading(keeping.findings_of(found)),
    }


def _context(
    request: HttpRequest, piece: Piece, *, topic: str = "", form: forms.Form | None = None,
    found: Answer | None = None, problem: str = "",
) -> dict[str, Any]:  # fmt: skip
    on_record = keeping.kept(piece, KEYS)
    axle = request.GET.get("axle") or (request.POST.get("axle") or "" if form else "")
    labels = axle_drawing.labels(piece.known_arrangement)
    axle = axle if axle in labels else ""
    shown = []
    for one in TOPICS:
        mine = one.key == topic
        past = on_record.get(one.key, [])
        shown.append(
            Shown(
                one,
                form if mine and form else _form(one.key, piece, request, past=past, axle=axle),
                found if mine else None,
                problem if mine else "",
                past[:6],
                _axles(piece, past, axle) if one.key == "wheels" else SafeString(""),
                axle if one.key == "wheels" else "",
                chosen=one.key == "winding" and "segments" in request.GET,
            )
        )
    since, changed = _since(piece, topic, found, request)
    following: NextReading | None = next_reading(keeping.findings_of(on_record))
    return {
        "piece": piece,
        "shown": shown,
        "next": following,
        "next_name": next((t.name for t in TOPICS if following and t.key == following.topic), ""),
        "since": since,
        "changed": changed,
        "segments": _segments(piece, request),
        "segment_choices": SEGMENTS,
    }


def _since(
    piece: Piece, topic: str, found: Answer | None, request: HttpRequest
) -> tuple[datetime | None, dict[str, keeping.Change]]:
    """Give the changes since the topic was last kept."""
    if found is None:
        return None, {}
    past = keeping.kept(piece, (topic,)).get(topic, [])
    return keeping.changes(past, found, request.POST.get("axle", ""))


def _form(
    topic: str, piece: Piece, request: HttpRequest, *, past: list[Kept] | None = None,
    axle: str = "",
) -> forms.Form:  # fmt: skip
    options: dict[str, Any] = {"auto_id": f"{topic}-%s"}
    if topic == "winding":
        options["segments"] = _segments(piece, request)
    if past is None:
        return FORMS[topic](request.POST, request.FILES, **options)
    last = next((k for k in past if topic != "wheels" or k.axle == axle), None)
    initial: dict[str, Any] = {"gauge_mm": _gauge(piece), "axle": axle}
    if topic == "size":
        initial["wheel_diameter_mm"] = (piece.known_drive or {}).get("wheel_diameter_mm")
    return FORMS[topic](initial={**initial, **(last.typed if last else {})}, **options)


def _typed(request: HttpRequest, form: forms.Form) -> dict[str, str]:
    """Give what stood in the fields, files excepted."""
    given = {name: request.POST.get(name, "").strip()[:200] for name in form.fields}
    return {name: text for name, text in given.items() if text}


def _segments(piece: Piece, request: HttpRequest | None) -> int:
    asked = ""
    if request is not None:
        asked = request.POST.get("segments", "") or request.GET.get("segments", "")
    if asked.isdecimal() and int(asked) in SEGMENTS:
        return int(asked)
    poles = (piece.known_drive or {}).get("armature_poles")
    return poles if isinstance(poles, int) and poles in SEGMENTS else USUAL_SEGMENTS


def _gauge(piece: Piece) -> float | None:
    try:
        found = gauges(scale(piece.known_scale or ""))
    except NotationError:
        return None
    return found[0].gauge_mm if found else None


def _axles(piece: Piece, past: list[Kept], current: str) -> SafeString:
    def address(label: str) -> str:
        return f"{reverse('meter', args=[piece.pk])}?axle={label}#wheels"

    return axle_drawing.drawing(
        piece.known_arrangement, keeping.axle_marks(past), link=address, current=current or None
    )


urlpatterns = [
    path("piece/<int:pk>/meter/", show, name="meter"),
    path("piece/<int:pk>/meter/form.pdf", paper, name="meter_form"),
    path("piece/<int:pk>/meter/forget/", forget, name="meter_forget"),
    path("piece/<int:pk>/meter/<slug:topic>/", say, name="meter_say"),
]
