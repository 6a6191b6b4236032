"""A clip of a running piece: take it in, measure it, show the track over it, correct the ruler."""

from collections.abc import Mapping
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.template.defaultfilters import filesizeformat
from django.urls import path, reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe
from django_htmx.http import HttpResponseClientRedirect

from outshop.errors import InputError
from outshop.estimate import Estimate
from outshop.pages import fields, lookup
from outshop.pages.piece_sections import Row
from outshop.records import services
from outshop.records.models import JobCard, Piece, Recording
from outshop.records.services.recordings import readings_of

PROGRAMME = "motion"
BUSY = (Recording.Status.WAITING, Recording.Status.ANALYSING)
LENGTHS_MM = (5.0, 5000.0)  # what a model over buffers may measure


@require_http_methods(["GET", "POST"])
def film(request: HttpRequest, pk: int) -> HttpResponse:
    """Say how to film, and take the clip in."""
    piece = lookup.piece(pk)
    if request.method == "GET":
        return render(request, "motion/film.html", _form_context(piece))
    try:
        recording = _kept(request, piece)
    except InputError as problem:
        context = _form_context(piece) | {
            "problem": str(problem),
            "length_mm": request.POST.get("length_mm", ""),
        }
        part = fields.wants_part(request)
        page = "motion/_form.html" if part else "motion/film.html"
        return render(request, page, context, status=400)
    address = reverse("motion", args=[recording.pk])
    return HttpResponseClientRedirect(address) if fields.wants_part(request) else redirect(address)


@require_safe
def show(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the clip with the track over it, and what was found."""
    return render(request, "motion/motion.html", _context(lookup.recording(pk)))


@require_safe
def result(request: HttpRequest, pk: int) -> HttpResponse:
    """Give the result part alone; the page asks for it until the measuring is done."""
    recording = lookup.recording(pk)
    response = render(request, "motion/_result.html", _context(recording))
    if recording.status not in BUSY and request.GET.get("waited"):
        response.headers["HX-Refresh"] = "true"  # the clip can now be drawn over
    return response


@require_safe
def draw_track(_request: HttpRequest, pk: int) -> JsonResponse:
    """Give what is drawn over the clip."""
    found: Mapping[str, Any] = lookup.recording(pk).result or {}
    keys = ("track", "ruler", "picture", "steady", "start_s", "stop_s", "duration_s")
    return JsonResponse({key: found.get(key) for key in keys})


@require_POST
def correct(request: HttpRequest, pk: int) -> HttpResponse:
    """Measure again with the ruler's ends as dragged, or with the object that was tapped."""
    recording = lookup.recording(pk)
    setup = dict(recording.setup)
    if request.POST.get("what") == "object":
        setup["pick"] = [_number(request, "pick_x"), _number(request, "pick_y")]
    elif request.POST.get("what") == "length":
        setup.pop("marks", None)
        setup["length_mm"] = _length(request)
    else:
        ends = [_number(request, name) for name in ("x1", "y1", "x2", "y2")]
        setup["marks"] = [*ends, _number(request, "mm")]
    services.change_recording(recording=recording, setup=setup)
    services.measure_again(recording=recording)
    return redirect("motion", pk)


def _kept(request: HttpRequest, piece: Piece) -> Recording:
    length = _length(request)
    file = fields.uploaded(request)
    return services.add_recording(
        piece=piece,
        source=file.source,
        name=file.name,
        role=Recording.Role.OTHER,
        programme=PROGRAMME,
        job=piece.jobs.filter(state=JobCard.State.OPEN).first(),
        setup={"length_mm": length},
        token=fields.form_token(request),
    )


def _length(request: HttpRequest) -> float:
    length = fields.number_or_none(request.POST.get("length_mm", ""), _("Length over buffers"))
    if length is None:
        raise InputError(_("The length over buffers is needed: it is the ruler in the picture."))
    if not LENGTHS_MM[0] <= length <= LENGTHS_MM[1]:
        message = _("A model of %(mm)g mm cannot be: between 5 and 5000 mm is expected.")
        raise InputError(message % {"mm": length})
    return length


def _number(request: HttpRequest, name: str) -> float:
    number = fields.number_or_none(request.POST.get(name, ""), name)
    if number is None:
        raise InputError(_("Something is missing: drag both ends of the ruler, or tap the model."))
    return number


def _form_context(piece: Piece) -> dict[str, Any]:
    known = piece.length_mm or (piece.edition.length_mm if piece.edition else None)
    return {
        "piece": piece,
        "length_mm": f"{known:g}" if known else "",
        "largest": filesizeformat(settings.OUTSHOP_LARGEST_UPLOAD),
        "largest_bytes": settings.OUTSHOP_LARGEST_UPLOAD,
    }


def _context(recording: Recording) -> dict[str, Any]:
    rows = [Row(key, reading) for key, reading in readings_of(recording.result or {}).items()]
    found: Mapping[str, Any] = recording.result or {}
    return {
        "recording": recording,
        "piece": recording.piece,
        "busy": recording.status in BUSY,
        "found": found,
        "length_mm": recording.setup.get("length_mm"),
        "ends": (
            ("x1", _("Left end, across")),
            ("y1", _("Left end, down")),
            ("x2", _("Right end, across")),
            ("y2", _("Right end, down")),
        ),
        "marks": recording.setup.get("marks"),
        "readings": [row for row in rows if isinstance(row.reading, Estimate)],
        "unmeasured": [row for row in rows if not isinstance(row.reading, Estimate)],
    }


urlpatterns = [
    path("piece/<int:pk>/film/", film, name="film"),
    path("motion/<int:pk>/", show, name="motion"),
    path("motion/<int:pk>/result/", result, name="motion_result"),
    path("motion/<int:pk>/track/", draw_track, name="motion_track"),
    path("motion/<int:pk>/correct/", correct, name="motion_correct"),
]
