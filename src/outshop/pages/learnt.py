"""What confirmed causes have taught: counts, shown and reversible, out and in."""

from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from outshop.diagnosis.learning import LONGEST_FILE
from outshop.diagnosis.load import shipped_knowledge
from outshop.diagnosis.priors import weights
from outshop.errors import InputError
from outshop.pages import fields, lookup
from outshop.records import queries, services
from outshop.records.models import CauseCounts


@dataclass(frozen=True, slots=True)
class Lesson:
    """One cause with its counts and how its weight moved, in per cent."""

    name: str
    count: int
    before: float
    now: float


@require_safe
def show(request: HttpRequest) -> HttpResponse:
    """Show what was confirmed here, what was taken over, and how the odds moved."""
    return render(request, "trouble/learnt.html", _context())


@require_safe
def export(request: HttpRequest) -> HttpResponse:  # noqa: ARG001 - a view
    """Give the own counts as a file: no names, no dates, no models."""
    answer = HttpResponse(queries.experience().exported(), content_type="application/json")
    answer["Content-Disposition"] = 'attachment; filename="cause-counts.json"'
    return answer


@require_POST
def take(request: HttpRequest) -> HttpResponse:
    """Take over another shop's counts."""
    try:
        name, text = _sent(request)
        services.take_counts(name=name, text=text)
    except InputError as problem:
        context = _context() | {"problem": str(problem)}
        return render(request, "trouble/learnt.html", context, status=400)
    return redirect("learnt")


@require_POST
def forget(request: HttpRequest, pk: int) -> HttpResponse:  # noqa: ARG001 - a view
    """Take another shop's counts back."""
    services.forget_counts(counts=lookup.one(CauseCounts.objects.all(), pk))
    return redirect("learnt")


def _sent(request: HttpRequest) -> tuple[str, str]:
    file = fields.uploaded(request)
    text = file.source.read(LONGEST_FILE + 1)
    if len(text) > LONGEST_FILE:
        raise InputError(_("The file is too long for counts of causes."))
    name = request.POST.get("name", "").strip() or file.name
    return name[:300], text.decode("utf-8", "replace")


def _context() -> dict[str, object]:
    knowledge = shipped_knowledge()
    counts = queries.experience().counts()
    rows = zip(knowledge.causes, weights(knowledge), queries.learnt_weights(), strict=True)
    lessons = [
        Lesson(cause.name, counts[cause.id], 100 * float(before), 100 * float(now))
        for cause, before, now in rows
        if counts[cause.id]
    ]
    lessons.sort(key=lambda lesson: -lesson.count)
    return {
        "lessons": lessons,
        "solved": queries.solved_troubles(),
        "others": CauseCounts.objects.all(),
        "names": {c.id: c.name for c in knowledge.causes},
    }


urlpatterns = [
    path("learnt/", show, name="learnt"),
    path("learnt/counts.json", export, name="learnt_export"),
    path("learnt/take/", take, name="learnt_take"),
    path("learnt/<int:pk>/forget/", forget, name="learnt_forget"),
]
