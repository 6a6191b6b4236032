"""The job card: made from findings or chosen tasks, checked off with the thumb."""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path, reverse
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from outshop.errors import InputError
from outshop.pages import axle_drawing, fields, lookup
from outshop.pages.piece_sections import axle_states
from outshop.records import queries, services
from outshop.records.models import JobCard, JobStep, Photo
from outshop.records.services.job_cards import found_on_the_way
from outshop.reports import compose
from outshop.workshop import cautions
from outshop.workshop.cautions import Caution
from outshop.workshop.findings import summarise
from outshop.workshop.parts import all_parts
from outshop.workshop.tasks import all_tasks

PHASES = {
    "prepare": (gettext_noop("Before"), ""),
    "strip-down": (
        gettext_noop("Strip down"),
        gettext_noop("Take a photo before each thing that comes off."),
    ),
    "work": (gettext_noop("Work"), ""),
    "reassembly": (gettext_noop("Put together"), gettext_noop("The strip-down in reverse.")),
    "test": (gettext_noop("Function test"), ""),
    "run-in": (gettext_noop("Run in"), ""),
    "close": (gettext_noop("Close"), ""),
    "": (gettext_noop("Steps"), ""),
}
LONGEST_NOTE = 2000  # characters


@dataclass(frozen=True, slots=True)
class StepRow:
    """A step with its photos and its cautions: in full the first time, then folded."""

    step: JobStep
    cautions: tuple[Caution, ...]
    told: tuple[Caution, ...]
    photos: tuple[Photo, ...]


@dataclass(frozen=True, slots=True)
class ShownPhase:
    """Steps that belong together."""

    id: str
    name: str
    hint: str
    rows: tuple[StepRow, ...]


@require_http_methods(["GET", "POST"])
def new(request: HttpRequest, pk: int) -> HttpResponse:
    """Write a card from chosen tasks."""
    piece = lookup.piece(pk)
    tasks = [t for t in all_tasks() if not t.always]
    chosen = request.POST.getlist("task")
    if request.method == "POST" and chosen:
        names = {t.id: t.title for t in tasks}
        title = ", ".join(names[c] for c in chosen if c in names) or _("Service")
        card = services.write_job_card(
            piece=piece, title=title[:300], tasks=chosen, token=fields.form_token(request)
        )
        return redirect("job", card.pk)
    problem = _("Choose at least one task.") if request.method == "POST" else ""
    context = {"piece": piece, "tasks": tasks, "chosen": chosen, "problem": problem}
    return render(request, "job/new.html", context, status=400 if problem else 200)


@require_safe
def show(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the card."""
    job = queries.job_card(pk)
    steps = list(job.steps.all())
    done, count, _left = queries.step_progress(job)
    context = {
        "job": job,
        "piece": job.piece,
        "phases": _phases(steps),
        "tools": _each_once(step.tools for step in steps),
        "consumables": _each_once(step.consumables for step in steps),
        "minutes": sum(step.minutes for step in steps),
        "done": done,
        "count": count,
        "defer": cautions.defer(),
        "needs": job.needs.all(),
        "parts": all_parts(),
        "axles": axle_drawing.labels(job.piece.known_arrangement),
        "unanswered": [line for line in job.note.splitlines() if line],
    } | _why(job)
    return render(request, "job/job.html", context)


@require_safe
def print_card(_request: HttpRequest, pk: int) -> HttpResponse:
    """Give the card as PDF, to be ticked with a pencil where no phone should lie."""
    job = lookup.job(pk)
    answer = HttpResponse(compose.card_of(job), content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="job-card-{job.pk}.pdf"'
    return answer


@require_POST
def tick(request: HttpRequest, pk: int) -> HttpResponse:
    """Check a step off, or open it again; the form says which, so a second tap is harmless."""
    step = lookup.step(pk)
    if request.POST.get("done") == "yes":
        services.tick_step(step=step)
    else:
        services.untick_step(step=step)
    if not fields.wants_part(request):
        return redirect(_place(step))
    job = queries.job_card(step.card.pk)
    done, count, _left = queries.step_progress(job)
    fresh = next(s for s in job.steps.all() if s.pk == pk)
    context = {"row": _row(fresh, set()), "done": done, "count": count, "swap_progress": True}
    return render(request, "job/_step.html", context)


@require_POST
def note(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep a note and a photo at a step."""
    step = lookup.step(pk)
    services.change_step(step=step, note=request.POST.get("note", "")[:LONGEST_NOTE])
    if "file" in request.FILES:
        file = fields.uploaded(request)
        services.add_photo(
            piece=step.card.piece,
            source=file.source,
            name=file.name,
            step=step,
            token=fields.form_token(request),
        )
    return redirect(_place(step))


@require_POST
def found(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep what was found on the way; the next diagnosis reads it."""
    part, _colon, state = request.POST.get("what", "").partition(":")
    finding = found_on_the_way(
        card=lookup.job(pk),
        part=part,
        state=state,
        axle=request.POST.get("axle", "")[:20],
        note=request.POST.get("note", "").strip()[:LONGEST_NOTE],
    )
    kept = services.as_workshop([finding])[0].sentence
    messages.success(request, _("Kept: %(finding)s.") % {"finding": kept}, extra_tags="done")
    return redirect(reverse("job", args=[pk]) + "#found")


@require_POST
def finish(request: HttpRequest, pk: int) -> HttpResponse:
    """Close the card."""
    job = lookup.job(pk)
    try:
        services.finish_job(card=job, given_up=request.POST.get("given_up") == "yes")
    except InputError as problem:
        messages.error(request, str(problem), extra_tags="wrong")
        return redirect(reverse("job", args=[pk]) + "#close")
    return redirect("job", pk)


@require_POST
def reopen(_request: HttpRequest, pk: int) -> HttpResponse:
    """Open a closed card again."""
    services.reopen_job(card=lookup.job(pk))
    return redirect("job", pk)


def _place(step: JobStep) -> str:
    return f"{reverse('job', args=[step.card.pk])}#step-{step.pk}"


def _phases(steps: list[JobStep]) -> list[ShownPhase]:
    """Group the steps; what comes twice, such as putting together, gets a number."""
    phases: list[ShownPhase] = []
    told: set[str] = set()
    for key, members in groupby(steps, key=lambda step: step.phase):
        name, hint = PHASES.get(key, (key, ""))
        rows = tuple(_row(step, told) for step in members)
        times = 1 + sum(phase.id.startswith(key or "steps") for phase in phases)
        shown = _(name) if times == 1 else _("%(name)s, part %(n)d") % {"name": _(name), "n": times}
        place = f"{key or 'steps'}-{times}"
        phases.append(ShownPhase(place, shown, _(hint) if hint and times == 1 else "", rows))
    return phases


def _row(step: JobStep, told: set[str]) -> StepRow:
    """Give a step for the page; ``told`` gathers the cautions that stood in full above it."""
    known = {c.id for c in cautions.all_cautions()}
    full = cautions.cautions_for(name for name in step.cautions if name in known)
    fresh = tuple(c for c in full if c.id not in told)
    if not step.done_at:
        told.update(c.id for c in fresh)
    again = tuple(c for c in full if c not in fresh)
    return StepRow(step, fresh, again, tuple(step.photos.all()))


def _why(job: JobCard) -> dict[str, Any]:
    """Give the findings that the card answers."""
    if job.inspection is None:
        return {"stops": [], "reasons": [], "drawing": ""}
    kept = list(job.inspection.findings.all())
    condition = summarise(services.as_workshop(kept))
    drawing: SafeString = axle_drawing.drawing(
        job.piece.known_arrangement, axle_drawing.marks_of(axle_states(kept))
    )
    return {
        "stops": [f.sentence for f in condition.stops],
        "reasons": [f.sentence for f in (*condition.faults, *condition.missing)],
        "drawing": drawing,
    }


def _each_once(lists: Iterable[list[str]]) -> list[str]:
    return list(dict.fromkeys(item for one in lists for item in one))


urlpatterns = [
    path("piece/<int:pk>/job/", new, name="job_new"),
    path("job/<int:pk>/", show, name="job"),
    path("job/<int:pk>/print/", print_card, name="job_print"),
    path("job/<int:pk>/found/", found, name="job_found"),
    path("job/<int:pk>/finish/", finish, name="job_finish"),
    path("job/<int:pk>/reopen/", reopen, name="job_reopen"),
    path("step/<int:pk>/tick/", tick, name="step_tick"),
    path("step/<int:pk>/note/", note, name="step_note"),
]
