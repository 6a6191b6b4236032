"""A recording's sound in pictures: spectrogram, tones, wheel turn; and the drive behind them."""

from collections.abc import Mapping
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.http.response import FileResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import path, reverse
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from django.views.decorators.cache import cache_control
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from outshop.errors import InputError
from outshop.estimate import reading_from_json
from outshop.pages import axle_drawing, fields, lookup, sound_drive, sound_status, sound_tones
from outshop.records import queries, services, spectrograms, store
from outshop.records.models import Recording
from outshop.reports.rose import LETTERS, Bump, turn_rose
from outshop.reports.spectrogram import RunSpan, spectrogram_sheet

KEPT_FOR = 24 * 3600  # the picture may be drawn better by the next release
SCALE_SPEEDS = (1.0, 500.0)  # km/h to scale that a person may give


@require_safe
def show(request: HttpRequest, pk: int) -> HttpResponse:
    """Show what the recording holds, one picture after the other."""
    recording = lookup.recording(pk)
    if recording.programme == "motion":
        return redirect("motion", pk)
    if recording.status != Recording.Status.DONE:
        return redirect("recording", pk)
    found: Mapping[str, Any] = recording.result or {}
    before, after = queries.before_and_after(recording.piece)
    tones = sound_tones.tones_of(found)
    lines = sound_tones.lines_of(found, tones)
    runs = _runs(recording, found)
    context = {
        "recording": recording,
        "piece": recording.piece,
        "speed": sound_status.status_of(found),
        "given_km_h": recording.setup.get("scale_speed_km_h"),
        "outdated": sound_drive.outdated(recording),
        "tones": tones,
        "fixed": list(
            enumerate(found.get("steady_tones", []), sum(not t.fixed for t in lines) + 1)
        ),
        "resonances": found.get("fixed_resonances", []),
        "resonances_note": found.get("fixed_resonances_note", ""),
        "families": found.get("families", []),
        "runs": runs,
        "sheet": _sheet(recording, found, lines, runs),
        "rose": _rose(found),
        "thumps": list(zip(LETTERS, found.get("thumps", []), strict=False)),
        "modulation": _reading(found, "wheel_turn_modulation"),
        "axles": axle_drawing.drawing(recording.piece.known_arrangement, {}),
        "has_drive": bool(found.get("drive")),
        "partner": before is not None and after is not None and recording in (before, after),
    }
    return render(request, "sound/sound.html", context)


@require_safe
@cache_control(private=True, max_age=KEPT_FOR)
def picture(_request: HttpRequest, pk: int) -> HttpResponseBase:
    """Give the spectrogram as a PNG."""
    path_of = spectrograms.path_of(lookup.recording(pk).media.sha256)
    return FileResponse(store.open_read(path_of), content_type="image/png")


@require_POST
def give_speed(request: HttpRequest, pk: int) -> HttpResponse:
    """Take the scale speed that a person knows, or forget it, and measure again with it."""
    recording = lookup.recording(pk)
    setup = {k: v for k, v in recording.setup.items() if k != "scale_speed_km_h"}
    typed = request.POST.get("known_km_h", "").strip() or request.POST.get("choice", "")
    speed = None if request.POST.get("forget") else fields.number_or_none(typed, _("Scale speed"))
    if not request.POST.get("forget"):
        if speed is None:
            raise InputError(_("Choose one of the speeds, or type the one that you know."))
        if not SCALE_SPEEDS[0] <= speed <= SCALE_SPEEDS[1]:
            message = _("A scale speed of %(speed)g km/h cannot be right: 1 to 500 is expected.")
            raise InputError(message % {"speed": speed})
        setup["scale_speed_km_h"] = speed
    _measure_with(recording, setup)
    return redirect("recording", pk)


@require_http_methods(["GET", "POST"])
def drive(request: HttpRequest, pk: int) -> HttpResponse:
    """Ask for the drive and keep it with the edition."""
    piece = lookup.piece(pk)
    came_from = request.GET.get("recording", "")
    form = sound_drive.DriveForm(initial=sound_drive.initial_of(piece))
    if request.method == "POST":
        form = sound_drive.DriveForm(request.POST)
        version = request.POST.get("version", "")
        if not version.isdecimal():
            raise InputError(
                _("The form was incomplete: load the page again and send it once more.")
            )
        if form.is_valid():
            sound_drive.keep(piece, form.table(), int(version))
            known = came_from.isdecimal() and piece.recordings.filter(pk=int(came_from)).exists()
            return redirect("recording", int(came_from)) if known else redirect("piece", piece.pk)
    context = {"piece": piece, "form": form, "came_from": came_from}
    return render(request, "sound/drive.html", context, status=400 if form.errors else 200)


@services.use_case
def _measure_with(recording: Recording, setup: dict[str, Any]) -> None:
    services.change_recording(recording=recording, setup=setup)
    services.measure_again(recording=recording)


def _runs(recording: Recording, found: Mapping[str, Any]) -> list[RunSpan]:
    address = reverse("file", args=[recording.media.sha256])
    names = {"running": _("run"), "still": _("still")}
    return [
        RunSpan(
            run["start_s"],
            run["end_s"],
            f"{names.get(run['state'], run['state'])} {run['start_s']:.1f}–{run['end_s']:.1f} s",
            f"{address}#t={run['start_s']:.2f},{run['end_s']:.2f}",
        )
        for run in found.get("runs", [])
    ]


def _sheet(
    recording: Recording, found: Mapping[str, Any], lines: list[Any], runs: list[RunSpan]
) -> SafeString:
    svg = spectrogram_sheet(
        reverse("spectrogram", args=[recording.pk]),
        float(found.get("duration_s", 0)),
        spectrograms.limits_hz(float(found.get("sample_rate_hz", 44_100))),
        lines,
        [
            run
            for run, shape in zip(runs, found.get("runs", []), strict=True)
            if shape["state"] == "running"
        ],
        _("Spectrogram: time from left to right, pitch from low to high, strong marks are loud"),
    )
    return mark_safe(svg)  # noqa: S308 - the drawing escapes what it is given


def _rose(found: Mapping[str, Any]) -> SafeString:
    bumps = [
        Bump(t["angle_deg"], _("%(db).1f dB above the rest of the turn") % {"db": t["height_db"]})
        for t in found.get("thumps", [])
    ]
    title = _("Loudness over one turn of the wheel; the circle is the mean")
    return mark_safe(turn_rose(found.get("turn_envelope", []), bumps, title))  # noqa: S308 - escaped


def _reading(found: Mapping[str, Any], key: str) -> Any:
    shape = found.get(key)
    return reading_from_json(shape) if isinstance(shape, Mapping) else None


urlpatterns = [
    path("recording/<int:pk>/sound/", show, name="sound"),
    path("recording/<int:pk>/spectrogram.png", picture, name="spectrogram"),
    path("recording/<int:pk>/speed/", give_speed, name="give_speed"),
    path("piece/<int:pk>/drive/", drive, name="drive"),
]
