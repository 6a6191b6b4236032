"""Five different trains for one question, side by side; one is kept by a tap."""

from dataclasses import dataclass
from functools import lru_cache

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from outshop.formation.compose import Composition, compose
from outshop.formation.recipes import read_recipe
from outshop.formation.scene import Scene
from outshop.pages import fields
from outshop.pages.formation.judging import Desk, Judged, desk_of
from outshop.pages.formation.orders import Order, standing
from outshop.pages.formation.shown import drawing
from outshop.pages.formation.trains import one
from outshop.records.models import Formation, ShelfVehicle, TrainRecipe

COUNT = 5
THINKING_S = 3.0  # for the best one and its proof while a person waits


@dataclass(frozen=True, slots=True)
class Offered:
    """One of the trains: what sets it apart from the first, and whether it stands already."""

    number: int
    judged: Judged
    drawing: SafeString
    without: tuple[str, ...]
    instead: tuple[str, ...]
    stands: bool


@require_safe
def choices(request: HttpRequest, pk: int) -> HttpResponse:
    """Show at once that trains are being made up; then show them, or why there is none."""
    formation = one(pk)
    aim = "longest" if request.GET.get("aim") == "longest" else "believable"
    context: dict[str, object] = {"formation": formation, "aim": aim}
    part = fields.wants_part(request)
    if formation.line.sections.exists() and (part or "now" in request.GET):
        context |= _found(formation, aim)
    template = "formation/_choices.html" if part else "formation/choices.html"
    return render(request, template, context)


def _found(formation: Formation, aim: str) -> dict[str, object]:
    desk = desk_of(formation)
    own = TrainRecipe.objects.filter(key=formation.recipe).values_list("text", flat=True)
    answer = made_up(desk.scene, aim, own.first() or "")
    return {
        "answer": answer,
        "offered": _offered(desk, answer),
        "gap": _gap(answer),
        "demands": formation.demands.select_related("vehicle"),
    }


@lru_cache(maxsize=8)  # so that coming back to the page shows the same trains at once
def made_up(scene: Scene, aim: str, recipe: str = "") -> Composition:
    """Make up the trains; ``recipe`` is the text of a person's own recipe, if it is one."""
    own = {r.id: r for r in [read_recipe(recipe)]} if recipe else None
    return compose(scene, aim, COUNT, recipes=own, seconds=THINKING_S)


def _offered(desk: Desk, answer: Composition) -> list[Offered]:
    shelf = {v.name: v for v in ShelfVehicle.objects.all()}
    now = str(standing(desk.formation))
    first = [v.name for v in answer.trains[0].vehicles] if answer.trains else []
    found = []
    for number, train in enumerate(answer.trains, 1):
        order = Order(tuple(shelf[v.name] for v in train.vehicles), train.turned)
        judged = desk.judged(order)
        names = [v.name for v in train.vehicles]
        found.append(
            Offered(
                number,
                judged,
                drawing(desk.formation, judged, linked=False),
                tuple(n for n in first if n not in names),
                tuple(n for n in names if n not in first),
                str(order) == now,
            )
        )
    return found


def _gap(answer: Composition) -> str:
    """Say how much better the first train could still be; a tie between equals is told as such."""
    proof = answer.proof
    if proof is None or proof.best_of_equals:
        return ""
    here, most, gap = proof.here, proof.most, proof.gap
    if gap.get("score"):
        told = {"score": here["score"], "most": most["score"]}
        return _("Not proven: a score of %(score).0f stands against %(most).0f at most.") % told
    if gap["vehicles"]:
        told = {"here": here["vehicles"], "most": most["vehicles"]}
        if proof.best:
            return _("One just as believable may have up to %(most)d vehicles for %(here)d.") % told
        return _("Not proven: %(here)d vehicles stand against %(most)d at most.") % told
    told = {"here": here["length_mm"], "most": most["length_mm"]}
    if proof.best:
        return _("One just as believable may be up to %(most).0f mm long for %(here).0f mm.") % told
    return _("Not proven: %(here).0f mm stand against %(most).0f mm at most.") % told
