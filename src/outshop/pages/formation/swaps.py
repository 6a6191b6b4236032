"""Swap, drop or add a vehicle at one place, each choice walked at once."""

from dataclasses import dataclass, replace

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from outshop.errors import MissingError
from outshop.formation.assess import fits
from outshop.formation.haul import Haul, haul
from outshop.formation.recipes import find_recipe
from outshop.formation.rules import judge, rules_of, score
from outshop.pages import lookup
from outshop.pages.formation.trains import one
from outshop.records.models import ShelfVehicle
from outshop.records.queries import formations as queries
from outshop.records.services import formations as services

SHOWN = 40  # choices on the page


@dataclass(frozen=True, slots=True)
class Choice:
    """One vehicle that could stand there, and what the train would be with it."""

    vehicle: ShelfVehicle
    haul: Haul
    score: float
    fits: bool


@require_http_methods(["GET", "POST"])
def place(request: HttpRequest, pk: int, place: int) -> HttpResponse:
    """Show what could stand at a place (one past the end adds); put it there when tapped."""
    formation = one(pk)
    train = queries.train_of(formation)
    if not 1 <= place <= len(train) + 1:
        raise MissingError(_("The train has no place %(n)d.") % {"n": place})
    if request.method == "POST":
        chosen = request.POST.get("vehicle", "")
        if chosen == "none":
            del train[place - 1 : place]
        else:
            fresh = lookup.one(ShelfVehicle.objects.all(), int(chosen) if chosen.isdecimal() else 0)
            train[place - 1 : place] = [fresh]
        services.set_train(formation=formation, vehicles=train)
        return redirect("train", pk)
    inside = {v.pk for v in train}
    free = [v for v in ShelfVehicle.objects.all() if v.pk not in inside]
    recipe = find_recipe(formation.recipe) if formation.recipe else None
    asked = queries.scene_of(formation)
    known = {v.name: v for v in asked.vehicles}
    choices = []
    for vehicle in free:
        tried = [*train[: place - 1], vehicle, *train[place:]]
        scene = replace(asked, vehicles=tuple(known[v.name] for v in tried))
        walked = haul(scene)
        demands = fits(scene, scene.vehicles, walked.length_mm)
        judged = judge(rules_of(recipe, scene.wish), scene.vehicles, scene.wish)
        choices.append(
            Choice(vehicle, walked, score(judged), all(d.met is not False for d in demands))
        )
    choices.sort(key=lambda c: (c.haul.verdict != "hauls", not c.fits, -c.score, c.vehicle.name))
    context = {
        "formation": formation,
        "place": place,
        "now": train[place - 1] if place <= len(train) else None,
        "choices": choices[:SHOWN],
        "more": max(0, len(choices) - SHOWN),
    }
    return render(request, "formation/place.html", context)
