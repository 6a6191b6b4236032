"""Trains: make one up, see it drawn with its reasons, print its card."""

from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import mark_safe
from django.utils.text import slugify
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from outshop.formation.assess import Assessment, assess
from outshop.formation.compose import compose
from outshop.formation.joints import turning
from outshop.formation.recipes import find_recipe
from outshop.formation.rules import reason_for, score
from outshop.formation.scene import Scene, Vehicle
from outshop.pages import fields, lookup
from outshop.pages.formation.forms import TrainForm
from outshop.pages.formation.lines import initial
from outshop.records.models import Formation, Line, ShelfVehicle
from outshop.records.queries import formations as queries
from outshop.records.queries.meters import engine_for_a_train
from outshop.records.services import formations as services
from outshop.reports.consist import consist_card
from outshop.reports.line import force_svg
from outshop.reports.train import Body, train_svg

THINKING_S = 3.0  # for the best train while a person waits


@dataclass(frozen=True, slots=True)
class Standing:
    """One vehicle of a train as the page shows it."""

    number: int
    vehicle: Vehicle
    turned: bool
    reason: str


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
    return render(request, "formation/train.html", shown(formation))


@require_POST
def make_up(request: HttpRequest, pk: int) -> HttpResponse:
    """Make up the best train from the shelf, or say why there is none."""
    formation = one(pk)
    aim = "longest" if request.POST.get("aim") == "longest" else "believable"
    answer = compose(queries.scene_of(formation), aim, seconds=THINKING_S)
    if answer.infeasible:
        because = "; ".join(answer.infeasible.why)
        would = "; ".join(answer.infeasible.smallest_fix)
        messages.warning(request, _("No train: %(because)s. It would help: %(would)s.")
                         % {"because": because, "would": would})  # fmt: skip
    else:
        kept = {v.name: v for v in ShelfVehicle.objects.all()}
        vehicles = [kept[v.name] for v in answer.trains[0].vehicles]
        services.set_train(formation=formation, vehicles=vehicles)
        if answer.proven_best:
            messages.success(request, _("No train from this shelf is better."))
        else:
            messages.success(
                request,
                _("A good train; at most %(most)d vehicles could be possible.")
                % {"most": answer.most["vehicles"]},
            )
    return redirect("train", pk)


@require_POST
def remove(request: HttpRequest, pk: int) -> HttpResponse:  # noqa: ARG001 - Django hands it over
    """Take the train apart."""
    services.remove_formation(formation=one(pk))
    return redirect("trains")


@require_safe
def card(request: HttpRequest, pk: int) -> HttpResponse:  # noqa: ARG001 - Django hands it over
    """Print the consist card."""
    formation = one(pk)
    scene, vehicles = question(formation)
    pdf = consist_card(
        assess(scene, vehicles),
        vehicles,
        title=formation.name,
        engine_name=scene.locomotive.name,
        engine_length_mm=scene.locomotive.length_mm,
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


def question(formation: Formation) -> tuple[Scene, tuple[Vehicle, ...]]:
    """Give the scene of the train that stands, and its vehicles in order."""
    standing = queries.train_of(formation)
    scene = queries.scene_of(formation, standing)
    return scene, scene.vehicles


def shown(formation: Formation) -> dict[str, Any]:
    """Gather what the page of one train shows."""
    if not formation.line.sections.exists():
        return {"formation": formation, "no_sections": True}
    scene, vehicles = question(formation)
    assessment: Assessment = assess(scene, vehicles)
    recipe = find_recipe(formation.recipe) if formation.recipe else None
    turned = turning(scene.locomotive.couplings[1], vehicles) or (False,) * len(vehicles)
    rows = [
        Standing(n, v, back, reason_for(v, assessment.judged, scene.wish))
        for n, (v, back) in enumerate(zip(vehicles, turned, strict=True), 1)
    ]
    bodies = [Body(scene.locomotive.name, "engine", scene.locomotive.length_mm)]
    bodies += [
        Body(v.name, v.kind, v.length_mm, reverse("train_place", args=[formation.pk, n]))
        for n, v in enumerate(vehicles, 1)
    ]
    drawing = train_svg(bodies, title=_("The train, drawn to scale"))
    force = force_svg(
        scene, vehicles, title=_("Profile of the line, and the force needed along it"),
        words=(_("pull"), _("needs")),
    )  # fmt: skip
    return {
        "formation": formation,
        "recipe": recipe,
        "scene": scene,
        "rows": rows,
        "assessment": assessment,
        "haul": assessment.haul,
        "score": score(assessment.judged),
        "drawing": mark_safe(drawing),  # noqa: S308 - made here, texts escaped
        "force": mark_safe(force),  # noqa: S308 - made here, texts escaped
        "compression": assessment.compression,
        "demands": formation.demands.select_related("vehicle"),
        "chance_percent": 100 * assessment.chance.probability,
    }
