"""Trains: make one up, see it drawn with its reasons, print its card."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode
from django.utils.text import slugify
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from outshop.pages import fields, lookup
from outshop.pages.formation.forms import TrainForm
from outshop.pages.formation.judging import desk_of
from outshop.pages.formation.kind_names import kind_name
from outshop.pages.formation.lines import initial
from outshop.pages.formation.orders import Order, read_order, standing
from outshop.pages.formation.shown import bodies, shown
from outshop.records.models import Formation, Line, ShelfVehicle
from outshop.records.queries.meters import engine_for_a_train
from outshop.records.services import formations as services
from outshop.reports.consist import consist_card


@require_safe
def trains(request: HttpRequest) -> HttpResponse:
    """List the trains."""
    context = {
        "trains": Formation.objects.select_related("line", "piece").prefetch_related("places"),
        "lines": Line.objects.count(),
        "vehicles": ShelfVehicle.objects.count(),
    }
    return render(request, "formation/trains.html", context)


@require_http_methods(["GET", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    """Take in a new train: engine, line and wish."""
    known: dict[str, Any] = {"line": Line.objects.first()}
    if (chosen := request.GET.get("piece", "")).isdecimal():
        piece = lookup.piece(int(chosen))
        known |= {"piece": piece, "name": str(piece), **engine_for_a_train(piece)}
    form = TrainForm(request.POST or None, initial=known)
    if request.method == "POST" and form.is_valid():
        made = services.add_formation(token=fields.form_token(request), **form.cleaned_data)
        return redirect("train", made.pk)
    return render(request, "formation/edit.html", {"form": form},
                  status=400 if form.errors else 200)  # fmt: skip


@require_http_methods(["GET", "POST"])
def edit(request: HttpRequest, pk: int) -> HttpResponse:
    """Change the engine's figures or the wish."""
    formation = one(pk)
    form = TrainForm(request.POST or None, initial=initial(formation, TrainForm))
    if request.method == "POST" and form.is_valid():
        services.change_formation(formation=formation, **form.cleaned_data)
        return redirect("train", pk)
    return render(request, "formation/edit.html", {"form": form, "formation": formation},
                  status=400 if form.errors else 200)  # fmt: skip


@require_safe
def train(request: HttpRequest, pk: int) -> HttpResponse:
    """Show a train: drawing, three tests, profile with the force along it."""
    formation = one(pk)
    return render_train(request, formation, before=request.GET.get("before"))


@require_POST
def put(request: HttpRequest, pk: int) -> HttpResponse:
    """Put an order of vehicles behind the engine: one of those made up, or the one before."""
    formation = one(pk)
    return arrange(request, formation, read_order(request.POST.get("order", "")))


@require_POST
def remove(request: HttpRequest, pk: int) -> HttpResponse:  # noqa: ARG001 - Django hands it over
    """Take the train apart."""
    services.remove_formation(formation=one(pk))
    return redirect("trains")


@require_safe
def card(request: HttpRequest, pk: int) -> HttpResponse:  # noqa: ARG001 - Django hands it over
    """Print the consist card."""
    formation = one(pk)
    desk = desk_of(formation)
    now = desk.judged(standing(formation))
    pdf = consist_card(
        now.assessment,
        now.scene,
        bodies(formation, now, linked=False),
        title=formation.name,
        line_name=formation.line.name,
        kind=desk.recipe.name if desk.recipe else "",
        kinds=[kind_name(v.kind) for v in now.vehicles],
        against=[f"{name}: {why}" for name, why in now.strange.items()],
        day=timezone.localdate(),
    )
    name = f"{slugify(formation.name) or 'train'}-consist.pdf"
    return HttpResponse(
        pdf,
        content_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{name}"'},
    )


def one(pk: int) -> Formation:
    """Give a formation with its line and engine."""
    return lookup.one(Formation.objects.select_related("line", "piece"), pk)


def arrange(
    request: HttpRequest, formation: Formation, order: Order, *, place: int = 0
) -> HttpResponse:
    """Put an order behind the engine and show what that changed, with ``place`` at work."""
    before = str(standing(formation))
    services.set_train(formation=formation, vehicles=order.vehicles, turned=order.turned)
    if fields.wants_part(request):
        return render_train(request, formation, before=before, place=place)
    return redirect(f"{reverse('train', args=[formation.pk])}?{urlencode({'before': before})}")


def render_train(
    request: HttpRequest, formation: Formation, *, before: str | None = None, place: int = 0
) -> HttpResponse:
    """Render a train's page, or, for htmx, the part that changes with its vehicles."""
    from outshop.pages.formation.swaps import panel

    context: dict[str, Any] = shown(formation, before=before, place=place)
    if place and not context.get("no_sections"):
        context |= panel(formation, place)
    part = fields.wants_part(request)
    return render(request, "formation/_train.html" if part else "formation/train.html", context)
