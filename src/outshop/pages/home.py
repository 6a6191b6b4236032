"""The bench: the first page."""

from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import path
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from outshop.pages.bench_parts import dues
from outshop.records import queries
from outshop.records.models import JobCard, Piece, Recording


@dataclass(frozen=True, slots=True)
class OnBench:
    """A piece on the bench and what comes next with it."""

    piece: Piece
    note: str


@require_safe
def bench(request: HttpRequest) -> HttpResponse:
    """Show what stands on the bench, what waits and what is due."""
    seen = queries.bench()
    notes = _notes(seen)
    on_bench = {p.pk: p for p in seen.on_the_bench}
    for job in seen.jobs:
        on_bench.setdefault(job.piece.pk, job.piece)
    waiting = [p for p in seen.arrived if p.pk not in on_bench]
    context = {
        "today": timezone.localdate(),
        "total": sum(seen.counts.values()),
        "on_bench": [OnBench(p, notes.get(p.pk, "")) for p in on_bench.values()],
        "waiting": waiting,
        "waiting_total": seen.counts.get(Piece.State.ARRIVED, 0),
        "running": seen.run_ins,
        "measuring": seen.waiting,
        "failed": seen.failed,
        "dues": dues(),
    }
    return render(request, "home/bench.html", context)


def _notes(seen: queries.Bench) -> dict[int, str]:
    """Say in one line what goes on with each piece."""
    notes: dict[int, str] = {}
    for job in reversed(seen.jobs):
        notes[job.piece.pk] = _job_note(job)
    for recording in seen.failed:
        notes[recording.piece.pk] = _("A recording could not be measured.")
    for recording in seen.waiting:
        notes[recording.piece.pk] = _measuring_note(recording)
    return notes


def _job_note(job: JobCard) -> str:
    counts = {
        "title": job.title,
        "n": getattr(job, "steps_done", 0),
        "of": getattr(job, "steps_all", 0),
    }
    return _("%(title)s: %(n)d of %(of)d steps done") % counts


def _measuring_note(recording: Recording) -> str:
    return _("Recording is being measured, %(percent)d %%") % {"percent": recording.progress}


urlpatterns = [path("", bench, name="bench")]
