"""What ails a piece: asked sign by sign, ranked at once, from a cause to its job card."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import path, reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from outshop.errors import InputError
from outshop.pages import fields, lookup
from outshop.pages.trouble_shown import (
    ModelForm,
    measured_value,
    questions,
    reading_of,
)
from outshop.records import queries, services
from outshop.records.models import Piece, Trouble

ANSWERS = {"yes": True, "no": False, "": None}
PREFIX = "answer-"


@require_POST
def new(request: HttpRequest, pk: int) -> HttpResponse:
    """Begin a trouble."""
    trouble = services.open_trouble(piece=lookup.piece(pk), token=fields.form_token(request))
    return redirect("trouble", trouble.pk)


@require_safe
def show(request: HttpRequest, pk: int) -> HttpResponse:
    """Show stop-signs, next check, causes, and the questions by groups."""
    return _page(request, _trouble(pk))


@require_safe
def reasoning(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the whole reasoning, to print."""
    trouble = _trouble(pk)
    return render(request, "trouble/reasoning.html", reading_of(trouble, whole=True))


@require_POST
def answer(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep the answers that were sent: one from a tap, or the whole form."""
    trouble = _trouble(pk)
    for name, said in request.POST.items():
        if name.startswith(PREFIX):
            if said not in ANSWERS:
                raise InputError(_("An answer is yes, no or not looked."))
            sign = name.removeprefix(PREFIX)
            if trouble.answers.get(sign) is not ANSWERS[str(said)]:
                services.answer_sign(trouble=trouble, sign=sign, answer=ANSWERS[str(said)])
    return _after(request, trouble)


@require_POST
def model(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep how the model is fed, its motor and its decade."""
    trouble, form = _trouble(pk), ModelForm(request.POST)
    if not form.is_valid():
        return _page(request, trouble, form=form, status=400)
    services.change_trouble(trouble=trouble, **form.cleaned_data)
    return _after(request, trouble)


@require_POST
def measured(request: HttpRequest, pk: int) -> HttpResponse:
    """Keep one meter reading, or take it back when its value is empty."""
    trouble = _trouble(pk)
    key, text = request.POST.get("key", ""), request.POST.get("value", "")
    try:
        services.set_measured(trouble=trouble, key=key, value=measured_value(key, text))
    except InputError as problem:
        return _page(request, trouble, problem=str(problem), status=400)
    return _after(request, trouble)


@require_POST
def make_job(request: HttpRequest, pk: int) -> HttpResponse:
    """Write the job card for one cause."""
    card = services.write_trouble_job(
        trouble=_trouble(pk),
        cause=request.POST.get("cause", ""),
        token=fields.form_token(request),
    )
    return redirect("job", card.pk)


@require_POST
def confirm(request: HttpRequest, pk: int) -> HttpResponse:
    """Say which cause it was, or take that back."""
    trouble = services.confirm_cause(trouble=_trouble(pk), cause=request.POST.get("cause", ""))
    if trouble.cause:
        messages.success(request, _("Kept. From now on this cause counts a little more here."))
    return redirect("trouble", trouble.pk)


@require_POST
def remove(request: HttpRequest, pk: int) -> HttpResponse:  # noqa: ARG001 - a view
    """Take a trouble back."""
    trouble = _trouble(pk)
    services.remove_trouble(trouble=trouble)
    return redirect(lookup.address(trouble.piece) + "#condition")


def _trouble(pk: int) -> Trouble:
    return lookup.one(Trouble.objects.select_related("piece__edition", "job"), pk)


def _after(request: HttpRequest, trouble: Trouble) -> HttpResponse:
    if not fields.wants_part(request):
        return redirect(reverse("trouble", args=[trouble.pk]) + "#reading")
    context = reading_of(trouble)
    if "asked" in request.POST:  # answered beside the check: the question shows it too
        context["moved"] = [
            row
            for group in questions(trouble)
            for row in group.rows
            if PREFIX + row.id in request.POST
        ]
    return render(request, "trouble/_reading.html", context)


def _page(
    request: HttpRequest,
    trouble: Trouble,
    *,
    form: ModelForm | None = None,
    problem: str = "",
    status: int = 200,
) -> HttpResponse:
    context = reading_of(trouble) | {
        "groups": questions(trouble),
        "form": form or ModelForm.of(trouble),
        "problem": problem,
    }
    if fields.wants_part(request):
        return render(request, "trouble/_reading.html", context, status=status)
    return render(request, "trouble/trouble.html", context, status=status)


def on_piece_page(piece: Piece) -> dict[str, Any]:
    """Give the troubles of a piece, latest first."""
    return {"troubles": queries.troubles_of(piece)}


urlpatterns = [
    path("piece/<int:pk>/trouble/", new, name="trouble_new"),
    path("trouble/<int:pk>/", show, name="trouble"),
    path("trouble/<int:pk>/reasoning/", reasoning, name="trouble_reasoning"),
    path("trouble/<int:pk>/answer/", answer, name="trouble_answer"),
    path("trouble/<int:pk>/model/", model, name="trouble_model"),
    path("trouble/<int:pk>/measured/", measured, name="trouble_measured"),
    path("trouble/<int:pk>/job/", make_job, name="trouble_job"),
    path("trouble/<int:pk>/confirm/", confirm, name="trouble_confirm"),
    path("trouble/<int:pk>/remove/", remove, name="trouble_remove"),
]
