"""What a train must and must not hold, and what the shelf lacks for it."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from outshop.errors import InputError
from outshop.formation.kinds import kinds
from outshop.formation.missing import missing
from outshop.formation.recipes import find_recipe
from outshop.pages import fields, lookup
from outshop.pages.formation.choices import THINKING_S
from outshop.pages.formation.kind_names import kind_name
from outshop.pages.formation.trains import one
from outshop.records.models import FormationDemand, ShelfVehicle
from outshop.records.models.base import NAME_LENGTH
from outshop.records.queries import formations as queries
from outshop.records.services import formations as services


@require_http_methods(["GET", "POST"])
def demands(request: HttpRequest, pk: int) -> HttpResponse:
    """Show every vehicle of the shelf with what is demanded of it; take the demands in."""
    formation = one(pk)
    shelf = list(ShelfVehicle.objects.all())
    if request.method == "POST":
        sent = {v.pk: request.POST.get(f"v{v.pk}", "") for v in shelf}
        known = FormationDemand.Demand.values
        services.set_demands(
            formation=formation, demands={k: d for k, d in sent.items() if d in known}
        )
        return redirect("train", pk)
    kept = queries.demands_of(formation)
    choices = [("", _("as it comes")), *FormationDemand.Demand.choices]
    rows = [(v, kept.get(v.pk, "")) for v in shelf]
    context = {"formation": formation, "rows": rows, "choices": choices}
    return render(request, "formation/demands.html", context)


@require_POST
def free(request: HttpRequest, pk: int) -> HttpResponse:
    """Let one fixed or forbidden vehicle be, and make trains up again."""
    formation = one(pk)
    chosen = request.POST.get("vehicle", "")
    vehicle = lookup.one(ShelfVehicle.objects.all(), int(chosen) if chosen.isdecimal() else 0)
    services.set_demand(formation=formation, vehicle=vehicle, demand="")
    return redirect("train_choices", pk)


@require_http_methods(["GET", "POST"])
def wanting(request: HttpRequest, pk: int) -> HttpResponse:
    """Show what is missing on the shelf, ranked by gain; put one on the wish list by a tap."""
    formation = one(pk)
    if request.method == "POST":
        kind = request.POST.get("kind", "")
        if kind not in kinds():
            message = _("There is no kind of vehicle called %(kind)s.") % {"kind": kind}
            raise InputError(message)
        wanted = services.want_vehicle(
            formation=formation,
            kind=kind,
            name=_wanted_name(kind, str(formation)),
            token=fields.form_token(request),
        )
        messages.success(request, _("%(piece)s is on the wish list.") % {"piece": wanted})
        return redirect("piece", wanted.pk)
    own = queries.own_recipes()
    recipe = find_recipe(formation.recipe, own) if formation.recipe else None
    found = missing(queries.scene_of(formation), recipe, THINKING_S)
    return render(request, "formation/missing.html", {"formation": formation, "missing": found})


def _wanted_name(kind: str, train: str) -> str:
    name = _("%(kind)s for %(train)s") % {"kind": kind_name(kind), "train": train}
    return (name[:1].upper() + name[1:])[:NAME_LENGTH]
