"""The bench programme: guide, record, keep, measure, show."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.template.defaultfilters import filesizeformat
from django.urls import path, reverse
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_POST, require_safe
from django_htmx.http import HttpResponseClientRedirect

from outshop.errors import InputError
from outshop.estimate import Estimate, Reading, reading_from_json
from outshop.pages import bench_clock, fields, lookup, sound_drive, sound_status
from outshop.pages.piece_sections import Row, stops_of
from outshop.records import peaks, queries, services
from outshop.records.models import JobCard, Piece, Recording

PROGRAMME = "sound"
BUSY = (Recording.Status.WAITING, Recording.Status.ANALYSING)
LEVELS_DB = (0.0, 200.0)  # what a calibration may say; beyond it is a slip of the pen


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the programme."""

    what: str | Promise
    seconds: int


# The same both times; about what a phone recording needs to be measured well.
STEPS = (
    Step(gettext_lazy("Power off, nothing moves, be quiet"), 5),
    Step(gettext_lazy("Forward, the slowest step that still runs"), 20),
    Step(gettext_lazy("Stop, be quiet"), 5),
    Step(gettext_lazy("Forward, half speed, steady"), 20),
    Step(gettext_lazy("Stop, be quiet"), 5),
    Step(gettext_lazy("Reverse, half speed, steady"), 20),
    Step(gettext_lazy("Stop, be quiet"), 5),
)


@require_safe
def choose(request: HttpRequest) -> HttpResponse:
    """Ask which piece shall be recorded; with only one on record there is nothing to ask."""
    q = request.GET.get("q", "")
    page = queries.shelf(search=q, sort="changed")
    if page.count == 1 and not q:
        return redirect("record", page.pieces[0].pk)
    return render(request, "recording/choose.html", {"pieces": page.pieces[:20], "q": q})


@require_http_methods(["GET", "POST"])
def record(request: HttpRequest, pk: int) -> HttpResponse:
    """Guide through the programme and take the recording in."""
    piece = lookup.piece(pk)
    if request.method == "GET":
        role = _role(request.GET.get("role", "")) or _likely_role(piece)
        context = _form_context(piece, role) | {
            "steps": STEPS,
            "rate": bench_clock.RATE,
            "stops": stops_of(piece) if role == Recording.Role.BEFORE else [],
        }
        return render(request, "recording/record.html", context)
    role = _role(request.POST.get("role", "")) or Recording.Role.OTHER
    try:
        recording = _kept(request, piece, role)
    except InputError as problem:
        context = _form_context(piece, role) | {
            "problem": str(problem),
            "full_scale_db": request.POST.get("full_scale_db", ""),
        }
        if fields.wants_part(request):
            return render(request, "recording/_form.html", context, status=400)
        context |= {"steps": STEPS, "rate": bench_clock.RATE}
        return render(request, "recording/record.html", context, status=400)
    address = reverse("recording", args=[recording.pk])
    if fields.wants_part(request):
        return HttpResponseClientRedirect(address)
    return redirect(address)


@require_safe
def show(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a recording, how far it is measured, and what was found."""
    recording = lookup.recording(pk)
    if recording.programme == "motion":  # a clip has its own page
        return redirect("motion", pk)
    return render(request, "recording/recording.html", _result_context(recording))


@require_safe
def result(request: HttpRequest, pk: int) -> HttpResponse:
    """Give the result part alone; the page asks for it until the measuring is done."""
    return render(request, "recording/_result.html", _result_context(lookup.recording(pk)))


@require_safe
def draw_peaks(_request: HttpRequest, pk: int) -> JsonResponse:
    """Give what the player draws."""
    recording = lookup.recording(pk)
    found: Mapping[str, Any] = recording.result or {}
    shape = {
        "peaks": peaks.peaks_of(recording.media.sha256),
        "duration_s": found.get("duration_s"),
        "runs": found.get("runs", []),
    }
    return JsonResponse(shape)


@require_POST
def again(_request: HttpRequest, pk: int) -> HttpResponse:
    """Measure once more, as after the drive was entered."""
    recording = lookup.recording(pk)
    services.measure_again(recording=recording)
    return redirect("recording", pk)


@require_POST
def set_role(request: HttpRequest, pk: int) -> HttpResponse:
    """Mark a recording as before, after or neither."""
    role = _role(request.POST.get("role", ""))
    if role is None:
        raise InputError(_("A recording is from before the work, from after it, or neither."))
    services.change_recording(recording=lookup.recording(pk), role=role)
    return redirect("recording", pk)


@require_POST
def remove(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a recording off the record."""
    recording = lookup.recording(pk)
    piece = recording.piece
    services.remove_recording(recording=recording)
    messages.success(request, _("The recording was taken off the record."))
    return redirect(f"{lookup.address(piece)}#bench")


def _kept(request: HttpRequest, piece: Piece, role: str) -> Recording:
    full_scale = fields.number_or_none(
        request.POST.get("full_scale_db", ""), _("Level of a full-scale tone")
    )
    if full_scale is not None and not LEVELS_DB[0] <= full_scale <= LEVELS_DB[1]:
        message = _(
            "A full-scale tone of %(db)g dB cannot be right: between 0 and 200 is expected."
        )
        raise InputError(message % {"db": full_scale})
    file = fields.uploaded(request)
    return services.add_recording(
        piece=piece,
        source=file.source,
        name=file.name,
        role=role,
        programme=PROGRAMME,
        job=piece.jobs.filter(state=JobCard.State.OPEN).first(),
        full_scale_db=full_scale,
        token=fields.form_token(request),
    )


def _role(text: str) -> str | None:
    return text if text in Recording.Role.values else None


def _likely_role(piece: Piece) -> str:
    role = Recording.Role
    return role.AFTER if piece.recordings.filter(role=role.BEFORE).exists() else role.BEFORE


def _form_context(piece: Piece, role: str) -> dict[str, Any]:
    return {
        "piece": piece,
        "role": role,
        "roles": Recording.Role.choices,
        "largest": filesizeformat(settings.OUTSHOP_LARGEST_UPLOAD),
        "largest_bytes": settings.OUTSHOP_LARGEST_UPLOAD,
    }


def _result_context(recording: Recording) -> dict[str, Any]:
    found: Mapping[str, Any] = recording.result or {}
    before, after = queries.before_and_after(recording.piece)
    rows = [Row(key, reading) for key, reading in _readings(found).items()]
    speed = sound_status.status_of(found)
    measured = [row for row in rows if isinstance(row.reading, Estimate)]
    doubtful = sound_status.REST_ON_SPEED if speed.unsure else ()
    return {
        "recording": recording,
        "piece": recording.piece,
        "busy": recording.status in BUSY,
        "readings": [row for row in measured if row.key not in doubtful],
        "doubtful": [row for row in measured if row.key in doubtful],
        "speed": speed,
        "given_km_h": recording.setup.get("scale_speed_km_h"),
        "outdated": sound_drive.outdated(recording),
        "unmeasured": [row for row in rows if not isinstance(row.reading, Estimate)],
        "warnings": found.get("warnings", []),
        "runs": found.get("runs", []),
        "orders": found.get("orders", []),
        "families": found.get("families", []),
        "thumps": found.get("thumps", []),
        "alternatives": found.get("alternatives", []),
        "speed_status": found.get("motor_speed_status", ""),
        "roles": Recording.Role.choices,
        "partner": before is not None and after is not None and recording in (before, after),
    }


def _readings(found: Mapping[str, Any]) -> dict[str, Reading]:
    """Give the readings at the top of a bench's result, in its order."""
    return {
        key: reading_from_json(shape)
        for key, shape in found.items()
        if isinstance(shape, Mapping) and "unit" in shape and "value" in shape
    }


urlpatterns = [
    path("record/", choose, name="record_any"),
    path("piece/<int:pk>/record/", record, name="record"),
    path("recording/<int:pk>/", show, name="recording"),
    path("recording/<int:pk>/result/", result, name="recording_result"),
    path("recording/<int:pk>/peaks/", draw_peaks, name="peaks"),
    path("recording/<int:pk>/again/", again, name="measure_again"),
    path("recording/<int:pk>/role/", set_role, name="recording_role"),
    path("recording/<int:pk>/remove/", remove, name="recording_remove"),
]
