"""The evening's timetable: several trains from one shelf, none sharing a vehicle."""

from dataclasses import dataclass

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from outshop.errors import InputError
from outshop.formation.timetable import Timetable, fill_timetable
from outshop.pages.formation.judging import Judged, desk_of
from outshop.pages.formation.orders import standing
from outshop.pages.formation.shown import drawing
from outshop.records.models import Formation, ShelfVehicle
from outshop.records.queries import formations as queries
from outshop.records.services import formations as services

THINKING_S = 4.0  # for the whole evening while a person waits
CLEAR_POINTS = 0.5  # of score: less is not shown as a difference
MOST_TRAINS = 6  # each more train leaves less time for all


@dataclass(frozen=True, slots=True)
class Row:
    """One train of the evening as it stands; ``ticked`` when it is to run."""

    train: Formation
    ticked: bool
    judged: Judged
    drawing: SafeString


@require_http_methods(["GET", "POST"])
def timetable(request: HttpRequest) -> HttpResponse:
    """Choose the trains of an evening; make them all up so that none shares a vehicle."""
    trains = list(
        Formation.objects.filter(line__sections__isnull=False)
        .distinct()
        .select_related("line", "piece")
        .prefetch_related("places__vehicle")
    )
    if request.method == "POST":
        chosen = [t for t in trains if str(t.pk) in request.POST.getlist("train")]
        if not 1 < len(chosen) <= MOST_TRAINS:
            message = _("Choose two to %(most)d trains.") % {"most": MOST_TRAINS}
            context = _shown(trains, {t.pk for t in chosen}) | {"wrong": message}
            return render(request, "formation/timetable.html", context, status=400)
        _fill(request, chosen, request.POST.get("aim", ""))
        return redirect("timetable")
    first = {t.pk for t in trains[:MOST_TRAINS]}
    return render(request, "formation/timetable.html", _shown(trains, first))


def _fill(request: HttpRequest, chosen: list[Formation], aim: str) -> None:
    scenes = [queries.scene_of(formation) for formation in chosen]
    try:
        filled = fill_timetable(
            scenes,
            "longest" if aim == "longest" else "believable",
            recipes=queries.own_recipes(),
            seconds=THINKING_S,
        )
    except InputError as problem:
        messages.warning(request, str(problem))
        return
    shelf = {v.name: v for v in ShelfVehicle.objects.all()}
    made = [
        (formation, [shelf[v.name] for v in train.vehicles])
        for formation, train in zip(chosen, filled.trains, strict=True)
        if train is not None
    ]
    services.set_timetable(trains=made)
    empty = [str(f) for f, t in zip(chosen, filled.trains, strict=True) if t is None]
    if empty:
        told = _("Nothing is left for %(trains)s; what stood in it may now run elsewhere.")
        more = _("It is proven that no other sharing fills more trains.") if filled.proven else ""
        messages.warning(request, f"{told % {'trains': ', '.join(empty)}} {more}".strip())
    else:
        messages.success(request, _how_good(filled))


def _how_good(filled: Timetable) -> str:
    """Say whether a better sharing of the shelf may exist, and how much better at most."""
    if filled.proven:
        return _("All trains are made up; it is proven that no better sharing exists.")
    here, most = filled.worth, filled.at_most
    told: dict[str, float] = {"here": here.vehicles, "most": most.vehicles}
    if most.score - here.score > CLEAR_POINTS:
        told = {"here": here.score, "most": most.score}
        return (
            _(
                "All trains are made up; a better sharing may exist: their scores add up to "
                "%(here).0f of %(most).0f at most."
            )
            % told
        )
    return (
        _(
            "All trains are made up; a better sharing may exist: %(here)d vehicles run of "
            "%(most)d at most."
        )
        % told
    )


def _shown(trains: list[Formation], ticked: set[int]) -> dict[str, object]:
    """Give each train as it stands, and vehicles that stand in several of them."""
    places: dict[str, list[str]] = {}
    for train in trains:
        for place in train.places.all():
            places.setdefault(place.vehicle.name, []).append(train.name)
    return {
        "trains": [_row(train, ticked=train.pk in ticked) for train in trains],
        "shared": {name: found for name, found in places.items() if len(found) > 1},
    }


def _row(train: Formation, *, ticked: bool) -> Row:
    judged = desk_of(train).judged(standing(train))
    return Row(train, ticked, judged, drawing(train, judged, linked=False))
