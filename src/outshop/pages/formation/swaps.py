"""One place of a train at work: swap, turn, move, fix, forbid or leave off, each seen at once."""

from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from outshop.errors import InputError, MissingError
from outshop.formation.joints import bad_joint_as_standing, turning
from outshop.pages import fields, lookup
from outshop.pages.formation.judging import Glance, desk_of
from outshop.pages.formation.orders import Order, standing
from outshop.pages.formation.trains import arrange, one, render_train
from outshop.records.models import Formation, FormationDemand, ShelfVehicle
from outshop.records.queries import formations as queries
from outshop.records.services import formations as services

SHOWN = 40  # choices on the page


@dataclass(frozen=True, slots=True)
class Choice:
    """One vehicle that could stand there, and what the train would be with it."""

    vehicle: ShelfVehicle
    glance: Glance
    more_g: float
    more_score: float
    against: str

    @property
    def more_text(self) -> str:
        """Force that it asks more than what stands, with its sign."""
        return f"{self.more_g:+.1f}"

    @property
    def score_text(self) -> str:
        """Score that it brings, with its sign."""
        return f"{self.more_score:+.0f}"


@require_http_methods(["GET", "POST"])
def place(request: HttpRequest, pk: int, place: int) -> HttpResponse:
    """Show what can be done at a place (one past the end adds), and do what is tapped."""
    formation = one(pk)
    order = standing(formation)
    number = len(order.vehicles)
    if not 1 <= place <= number + 1:
        raise MissingError(_("The train has no place %(n)d.") % {"n": place})
    if request.method == "POST":
        return _done(request, formation, order, place)
    part = fields.wants_part(request)
    template = "formation/_place.html" if part else "formation/place.html"
    return render(request, template, {"formation": formation, **panel(formation, place)})


def panel(formation: Formation, place: int) -> dict[str, Any]:
    """Gather what can stand at a place, best first, each against the train as it stands."""
    desk, order = desk_of(formation), standing(formation)
    now = desk.glance(order)
    inside = {v.pk for v in order.vehicles}
    choices = []
    for vehicle in ShelfVehicle.objects.all():
        if vehicle.pk in inside:
            continue
        tried = desk.glance(_with(formation, order, place, vehicle))
        choices.append(
            Choice(
                vehicle,
                tried,
                tried.haul.needed_g - now.haul.needed_g,
                tried.score - now.score,
                desk.aside.get(vehicle.name, ""),
            )
        )
    choices.sort(key=_rank)
    here = order.vehicles[place - 1] if place <= len(order.vehicles) else None
    return {
        "place": place,
        "now": here,
        "turned": here is not None and order.turned[place - 1],
        "last": place >= len(order.vehicles),
        "demand": queries.demands_of(formation).get(here.pk, "") if here else "",
        "choices": choices[:SHOWN],
        "more": max(0, len(choices) - SHOWN),
    }


def _rank(choice: Choice) -> tuple[Any, ...]:
    seen = choice.glance
    stalls = seen.haul.verdict != "hauls"
    return (bool(choice.against), stalls, bool(seen.misfits), -seen.score, choice.vehicle.name)


def _done(request: HttpRequest, formation: Formation, order: Order, place: int) -> HttpResponse:
    what, sent = request.POST.get("what", ""), request.POST.get("vehicle", "")
    if what in ("", "swap", "off"):
        fresh = None
        if what != "off" and sent != "none":
            fresh = lookup.one(ShelfVehicle.objects.all(), int(sent) if sent.isdecimal() else 0)
        changed = _with(formation, order, place, fresh)
        stays = place if fresh else 0
        return arrange(request, formation, changed, place=stays)
    if place > len(order.vehicles):
        raise MissingError(_("The train has no place %(n)d.") % {"n": place})
    if what == "turn":
        turned = list(order.turned)
        turned[place - 1] = not turned[place - 1]
        changed = Order(order.vehicles, tuple(turned))
        return arrange(request, formation, changed, place=place)
    if what in ("forward", "back"):
        to = max(1, min(len(order.vehicles), place + (1 if what == "back" else -1)))
        return arrange(request, formation, _moved(formation, order, place, to), place=to)
    if what not in ("free", *FormationDemand.Demand.values):
        raise InputError(_("%(what)r cannot be done with a vehicle.") % {"what": what[:60]})
    services.set_demand(
        formation=formation,
        vehicle=order.vehicles[place - 1],
        demand="" if what == "free" else what,
    )
    if fields.wants_part(request):
        return render_train(request, formation, place=place)
    return redirect("train", formation.pk)


def _with(formation: Formation, order: Order, place: int, vehicle: ShelfVehicle | None) -> Order:
    """Give the order with another vehicle, or none, at a place."""
    vehicles, turned = list(order.vehicles), list(order.turned)
    vehicles[place - 1 : place] = [vehicle] if vehicle else []
    turned[place - 1 : place] = [False] if vehicle else []
    return _coupled(formation, vehicles, turned)


def _moved(formation: Formation, order: Order, place: int, to: int) -> Order:
    vehicles, turned = list(order.vehicles), list(order.turned)
    vehicles.insert(to - 1, vehicles.pop(place - 1))
    turned.insert(to - 1, turned.pop(place - 1))
    return _coupled(formation, vehicles, turned)


def _coupled(formation: Formation, vehicles: list[ShelfVehicle], turned: list[bool]) -> Order:
    """Leave all as they stand if that couples; else turn those that must be, where that helps."""
    plain = [queries.as_vehicle(v) for v in vehicles]
    if bad_joint_as_standing(formation.rear, plain, turned) is not None:
        turned = list(turning(formation.rear, plain) or turned)
    return Order(tuple(vehicles), tuple(turned))
