"""The run-in clock on the page; the server keeps the time."""

from dataclasses import dataclass
from typing import Any

from django import forms
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from outshop.errors import InputError
from outshop.pages import bench_clock, fields, lookup, run_in_settling
from outshop.pages.fields import NumberField
from outshop.pages.piece_sections import stops_of
from outshop.records import services
from outshop.records.models import Direction, JobCard, RunIn
from outshop.records.run_in_clock import Clock, clock_of
from outshop.records.services.run_ins import add_logged_samples
from outshop.workshop import cautions
from outshop.workshop.run_in import CREDIBLE_A, CREDIBLE_C, DEFAULT_LIMIT_C, DEFAULT_MINUTES

State = RunIn.State
ENDED = (State.FINISHED, State.STOPPED)
LONGEST_LOG = 1_000_000  # bytes


class PlanForm(forms.Form):
    """How long each way, and when to stop."""

    forward = NumberField(label=gettext_lazy("Forward, minutes"), min_value=0.1, max_value=600)
    reverse = NumberField(label=gettext_lazy("Reverse, minutes"), min_value=0.1, max_value=600)
    temperature_limit_c = NumberField(
        label=gettext_lazy("Stop above, °C"),
        required=False,
        min_value=CREDIBLE_C[0],
        max_value=CREDIBLE_C[1],
        help_text=gettext_lazy(
            "At about 55 °C a finger cannot stay on it. Empty: no temperature is watched."
        ),
    )
    current_limit_a = NumberField(
        label=gettext_lazy("Stop above, A"),
        required=False,
        min_value=CREDIBLE_A[0],
        max_value=CREDIBLE_A[1],
        help_text=gettext_lazy("If you have a meter: about twice what it takes running light."),
    )


class ReadingForm(forms.Form):
    """One reading during the run-in."""

    current_a = NumberField(
        label=gettext_lazy("Current, A"), required=False, min_value=0, max_value=CREDIBLE_A[1]
    )
    temperature_c = NumberField(
        label=gettext_lazy("Temperature, °C"),
        required=False,
        min_value=CREDIBLE_C[0],
        max_value=CREDIBLE_C[1],
    )
    speed_km_h = NumberField(
        label=gettext_lazy("Scale speed, km/h"), required=False, min_value=0, max_value=1000
    )
    level_db = NumberField(
        label=gettext_lazy("Sound level, dB"), required=False, min_value=-200, max_value=200
    )
    note = forms.CharField(label=gettext_lazy("Note"), required=False, max_length=2000)


@dataclass(frozen=True, slots=True)
class Leg:
    """One leg as the page lists it."""

    words: str
    minutes: float
    here: bool
    over: bool


@require_http_methods(["GET", "POST"])
def new(request: HttpRequest, pk: int) -> HttpResponse:
    """Plan a run-in."""
    piece = lookup.piece(pk)
    usual = {
        "forward": f"{DEFAULT_MINUTES:g}",
        "reverse": f"{DEFAULT_MINUTES:g}",
        "temperature_limit_c": f"{DEFAULT_LIMIT_C:g}",
    }
    form = PlanForm(request.POST or None, initial=usual)
    asked = request.POST.get("job") or request.GET.get("job") or ""
    job = piece.jobs.filter(pk=int(asked)).first() if asked.isdecimal() else None
    job = job or piece.jobs.filter(state=JobCard.State.OPEN).first()
    if request.method == "POST" and form.is_valid():
        run_in = services.plan_run_in(
            piece=piece,
            job=job,
            legs=[
                {"direction": way.value, "minutes": form.cleaned_data[way.value]}
                for way in (Direction.FORWARD, Direction.REVERSE)
            ],
            temperature_limit_c=form.cleaned_data["temperature_limit_c"],
            current_limit_a=form.cleaned_data["current_limit_a"],
            token=fields.form_token(request),
        )
        return redirect("run_in", run_in.pk)
    context = {"piece": piece, "form": form, "job": job, "stops": stops_of(piece)}
    return render(request, "runin/new.html", context, status=400 if form.errors else 200)


@require_safe
def show(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the clock."""
    return _page(request, lookup.run_in(pk), ReadingForm())


@require_POST
def start(_request: HttpRequest, pk: int) -> HttpResponse:
    """Let the clock go."""
    services.start_run_in(run_in=lookup.run_in(pk), now=bench_clock.now())
    return redirect("run_in", pk)


@require_POST
def pause(_request: HttpRequest, pk: int) -> HttpResponse:
    """Hold the clock."""
    services.pause_run_in(run_in=lookup.run_in(pk), now=bench_clock.now())
    return redirect("run_in", pk)


@require_POST
def turn(request: HttpRequest, pk: int) -> HttpResponse:
    """Go on with the next leg, or end after the last; the form names the leg that is left."""
    leg = request.POST.get("leg", "")
    if not leg.isdecimal():
        raise InputError(_("The form was incomplete: load the page again and send it once more."))
    services.next_leg(run_in=lookup.run_in(pk), leg=int(leg), now=bench_clock.now())
    return redirect("run_in", pk)


@require_POST
def finish(_request: HttpRequest, pk: int) -> HttpResponse:
    """End it and log the minutes."""
    services.finish_run_in(run_in=lookup.run_in(pk), now=bench_clock.now())
    return redirect("run_in", pk)


@require_POST
def reading(request: HttpRequest, pk: int) -> HttpResponse:
    """Note a reading; one beyond a limit stops the clock."""
    run_in = lookup.run_in(pk)
    form = ReadingForm(request.POST)
    if form.is_valid() and not any(v not in (None, "") for v in form.cleaned_data.values()):
        form.add_error(None, _("Type at least one reading, or a note."))
    if not form.is_valid():
        return _page(request, run_in, form, status=400)
    services.add_sample(
        run_in=run_in, now=bench_clock.now(), token=fields.form_token(request), **form.cleaned_data
    )
    return redirect("run_in", pk)


@require_POST
def log(request: HttpRequest, pk: int) -> HttpResponse:
    """Take in a log of readings, as a file or as pasted lines."""
    run_in = lookup.run_in(pk)
    text = request.POST.get("log", "")
    if "file" in request.FILES:
        text = fields.uploaded(request).source.read(LONGEST_LOG).decode("utf-8", "replace")
    add_logged_samples(run_in=run_in, text=text, now=bench_clock.now())
    return redirect("run_in", pk)


def _page(
    request: HttpRequest, run_in: RunIn, form: ReadingForm, *, status: int = 200
) -> HttpResponse:
    clock = clock_of(run_in, bench_clock.now())
    going = clock.going and not clock.turn_now
    last = clock.leg + 1 >= len(run_in.legs)
    context: dict[str, Any] = {
        "run_in": run_in,
        "piece": run_in.piece,
        "clock": clock,
        "rate": bench_clock.RATE,
        "ticking": "going" if going else "full" if clock.turn_now else "still",
        "open": run_in.state not in ENDED,
        "last": last,
        "legs": _legs(run_in, clock),
        "now_words": _now_words(run_in, clock),
        "turn_words": _turn_words(run_in, clock),
        "samples": run_in.samples.all(),
        "settling": run_in_settling.shown(run_in),
        "form": form,
        "stay": cautions.caution("unattended"),
    }
    return render(request, "runin/run_in.html", context, status=status)


def _way(direction: str) -> str:
    return _("Forward") if direction == Direction.FORWARD else _("Reverse")


def _legs(run_in: RunIn, clock: Clock) -> list[Leg]:
    ended = run_in.state in ENDED
    return [
        Leg(
            _("%(way)s, low to moderate speed") % {"way": _way(leg["direction"])},
            float(leg["minutes"]),
            here=place == clock.leg and not ended,
            over=place < clock.leg or (ended and place <= clock.leg),
        )
        for place, leg in enumerate(run_in.legs)
    ]


def _now_words(run_in: RunIn, clock: Clock) -> str:
    if run_in.state in ENDED:
        return str(run_in.get_state_display()).capitalize()
    if clock.turn_now:
        return _turn_words(run_in, clock)
    way = _way(clock.direction)
    words = {
        State.READY: _("%(way)s, ready to start"),
        State.PAUSED: _("%(way)s, paused"),
    }.get(State(run_in.state), _("%(way)s, low to moderate speed"))
    return words % {"way": way}


def _turn_words(run_in: RunIn, clock: Clock) -> str:
    following = run_in.legs[clock.leg + 1 : clock.leg + 2]
    if not following:
        return _("Stop the piece and switch off")
    return _("Stop, then turn to %(way)s") % {"way": _way(following[0]["direction"]).lower()}


urlpatterns = [
    path("piece/<int:pk>/run-in/", new, name="run_in_new"),
    path("run-in/<int:pk>/", show, name="run_in"),
    path("run-in/<int:pk>/start/", start, name="run_in_start"),
    path("run-in/<int:pk>/pause/", pause, name="run_in_pause"),
    path("run-in/<int:pk>/turn/", turn, name="run_in_turn"),
    path("run-in/<int:pk>/finish/", finish, name="run_in_finish"),
    path("run-in/<int:pk>/reading/", reading, name="run_in_reading"),
    path("run-in/<int:pk>/log/", log, name="run_in_log"),
]
