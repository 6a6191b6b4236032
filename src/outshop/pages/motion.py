"""A clip of a running piece: take it in, measure it, show the track over it, correct the ruler."""

from collections.abc import Mapping
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.template.defaultfilters import filesizeformat
from django.urls import path, reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_POST, require_safe
from django_htmx.http import HttpResponseClientRedirect

from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable, Reading, reading_from_json
from outshop.pages import fields, lookup, motion_setup
from outshop.pages.piece_sections import Row
from outshop.records import services, store
from outshop.records.models import JobCard, Piece, Recording
from outshop.records.services.recordings import readings_of

PROGRAMME = "motion"
BUSY = (Recording.Status.WAITING, Recording.Status.ANALYSING)
_DRAWN = (
    "track", "ruler", "picture", "steady", "start_s", "stop_s", "duration_s", "start_moments"
)  # fmt: skip
MOMENTS = {
    "marked": gettext_lazy("marked by hand"),
    "click": gettext_lazy("a click"),
    "sound_begins": gettext_lazy("the drive is first heard"),
    "lamp": gettext_lazy("a lamp lights"),
}
WAYS = {
    "left_to_right": gettext_lazy("left to right"),
    "right_to_left": gettext_lazy("right to left"),
    "forward": gettext_lazy("forward"),
    "reverse": gettext_lazy("in reverse"),
}


@require_http_methods(["GET", "POST"])
def film(request: HttpRequest, pk: int) -> HttpResponse:
    """Say how to film, and take the clip in."""
    piece = lookup.piece(pk)
    if request.method == "GET":
        return render(request, "motion/film.html", _form_context(piece))
    try:
        recording = _kept(request, piece)
    except InputError as problem:
        typed = request.POST.dict()
        again = {"length_mm": typed.get("length_mm", ""), "ruler": typed.get("ruler")}
        context = _form_context(piece) | again | {"problem": str(problem), "strip": typed}
        part = fields.wants_part(request)
        page = "motion/_form.html" if part else "motion/film.html"
        return render(request, page, context, status=400)
    address = reverse("motion", args=[recording.pk])
    return HttpResponseClientRedirect(address) if fields.wants_part(request) else redirect(address)


@require_safe
def ruler_pdf(_request: HttpRequest) -> HttpResponse:
    """Give the ruler strips to be printed."""
    from outshop.reports.ruler_strip import ruler_sheet

    answer = HttpResponse(ruler_sheet(), content_type="application/pdf")
    answer["Content-Disposition"] = 'inline; filename="ruler.pdf"'
    return answer


@require_safe
def show(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the clip with the track over it, and what was found."""
    return render(request, "motion/motion.html", _context(lookup.recording(pk), request))


@require_safe
def result(request: HttpRequest, pk: int) -> HttpResponse:
    """Give the result part alone; the page asks for it until the measuring is done."""
    recording = lookup.recording(pk)
    response = render(request, "motion/_result.html", _context(recording, request))
    if recording.status not in BUSY and request.GET.get("waited"):
        response.headers["HX-Refresh"] = "true"  # the clip can now be drawn over
    return response


@require_safe
def draw_track(_request: HttpRequest, pk: int) -> JsonResponse:
    """Give what is drawn over the clip."""
    found: Mapping[str, Any] = lookup.recording(pk).result or {}
    return JsonResponse({key: found.get(key) for key in _DRAWN})


@require_safe
def still(request: HttpRequest, pk: int) -> HttpResponse:
    """Give one frame as a picture, for a browser that cannot play the clip."""
    from outshop.media.still import still_at

    recording = lookup.recording(pk)
    moment = fields.number_or_none(request.GET.get("t", ""), "t") or 0.0
    picture = still_at(store.path_of(recording.media.sha256), moment)
    answer = HttpResponse(picture, content_type="image/jpeg")
    answer["Cache-Control"] = "private, max-age=3600"
    return answer


@require_POST
def correct(request: HttpRequest, pk: int) -> HttpResponse:
    """Measure again with what was corrected: ruler, object, moment, lamp or front."""
    recording = lookup.recording(pk)
    setup = motion_setup.changed(recording.setup, request.POST.dict())
    services.change_recording(recording=recording, setup=setup)
    services.measure_again(recording=recording)
    return redirect("motion", pk)


def _kept(request: HttpRequest, piece: Piece) -> Recording:
    setup = motion_setup.ruler_of(request.POST.dict())
    file = fields.uploaded(request)
    return services.add_recording(
        piece=piece,
        source=file.source,
        name=file.name,
        role=Recording.Role.OTHER,
        programme=PROGRAMME,
        job=piece.jobs.filter(state=JobCard.State.OPEN).first(),
        setup=setup,
        token=fields.form_token(request),
    )


def _form_context(piece: Piece) -> dict[str, Any]:
    known = piece.length_mm or (piece.edition.length_mm if piece.edition else None)
    return {
        "piece": piece,
        "length_mm": f"{known:g}" if known else "",
        "largest": filesizeformat(settings.OUTSHOP_LARGEST_UPLOAD),
        "largest_bytes": settings.OUTSHOP_LARGEST_UPLOAD,
    }


def _context(recording: Recording, request: HttpRequest) -> dict[str, Any]:
    found: Mapping[str, Any] = recording.result or {}
    rows = [Row(key, reading) for key, reading in readings_of(found).items()]
    others = _other_clips(recording)
    against = next((o for o in others if str(o.pk) == request.GET.get("against")), None)
    setup = recording.setup
    return {
        "recording": recording,
        "piece": recording.piece,
        "busy": recording.status in BUSY,
        "found": found,
        "setup": setup,
        "strip": setup,
        "length_mm": setup.get("length_mm"),
        "ends": (
            ("x1", _("Left end, across")),
            ("y1", _("Left end, down")),
            ("x2", _("Right end, across")),
            ("y2", _("Right end, down")),
        ),
        "marks": setup.get("marks"),
        "ruler_source": found.get("ruler", {}).get("source") or _source_wanted(setup),
        "moments": [_moment_row(m) for m in found.get("start_moments", ())],
        "both_ways": _both_ways(found, against, setup.get("front")),
        "others": others,
        "against": against,
        "readings": [row for row in rows if isinstance(row.reading, Estimate)],
        "unmeasured": [row for row in rows if not isinstance(row.reading, Estimate)],
    }


def _source_wanted(setup: Mapping[str, Any]) -> str:
    """Name the ruler of a clip that could not be measured, as the bench names it."""
    if setup.get("marks"):
        return "marks"
    return "markers" if setup.get("strip") else "length"


def _moment_row(moment: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "name": MOMENTS.get(moment["kind"], moment["kind"]),
        "kind": moment["kind"],
        "t_s": moment["t_s"]["value"],
        "delay": reading_from_json(moment["delay"]),
    }


def _other_clips(recording: Recording) -> list[Recording]:
    """Measured clips of the same piece, the latest first."""
    clips = recording.piece.recordings.filter(programme=PROGRAMME, status=Recording.Status.DONE)
    return [clip for clip in clips.exclude(pk=recording.pk).select_related("media") if clip.result]


def _both_ways(
    found: Mapping[str, Any], against: Recording | None, front: str | None
) -> dict[str, Any] | None:
    """Forward against reverse: within this clip, or between it and another one."""
    from outshop.bench.motion import directions

    if against is not None and found:
        sides = [(one["direction"], _speed(one)) for one in (found, against.result or {})]
        compared = directions.between_clips(sides[0], sides[1], front)
    elif found.get("forward_reverse", {}).get("sides"):
        compared = directions.forward_reverse_from_json(found["forward_reverse"])
    else:
        return None
    names = [str(WAYS[side.role or side.direction]) for side in compared.sides]
    if against is not None:
        clips = (_("this clip"), _("the other clip"))
        names = [f"{clip}, {name}" for clip, name in zip(clips, names, strict=True)]
    return {
        "sides": [(n, s.speed) for n, s in zip(names, compared.sides, strict=True)],
        "difference": compared.difference,
        "verdict": compared.verdict,
        "faster": _faster(names, compared.verdict),
    }


def _faster(names: list[str], verdict: str) -> str:
    which = {"first_faster": 0, "second_faster": 1}.get(verdict)
    return "" if which is None else names[which]


def _speed(found: Mapping[str, Any]) -> Reading:
    shape = found.get("speed")
    return reading_from_json(shape) if shape else NotMeasurable(_("not measured"), "m/s")


urlpatterns = [
    path("piece/<int:pk>/film/", film, name="film"),
    path("motion/ruler.pdf", ruler_pdf, name="ruler_pdf"),
    path("motion/<int:pk>/", show, name="motion"),
    path("motion/<int:pk>/result/", result, name="motion_result"),
    path("motion/<int:pk>/track/", draw_track, name="motion_track"),
    path("motion/<int:pk>/still/", still, name="motion_still"),
    path("motion/<int:pk>/correct/", correct, name="motion_correct"),
]
