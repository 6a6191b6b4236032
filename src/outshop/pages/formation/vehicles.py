"""Wagons and coaches on the shelf."""

from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from outshop.errors import InputError
from outshop.formation.scene import Range
from outshop.pages import fields, lookup
from outshop.pages.formation.forms import VehicleForm
from outshop.pages.formation.lines import initial
from outshop.records.models import Measurement, ShelfVehicle
from outshop.records.queries import formations as queries
from outshop.records.services import formations as services


@dataclass(frozen=True, slots=True)
class Row:
    """One vehicle with the rolling that counts, and the measurement it comes from."""

    vehicle: ShelfVehicle
    rolling: Range | None
    measured: Measurement | None


@require_http_methods(["GET", "POST"])
def vehicles(request: HttpRequest) -> HttpResponse:
    """List the vehicles; take in a new one."""
    form = VehicleForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            services.add_vehicle(token=fields.form_token(request), **form.cleaned_data)
        except InputError as problem:
            form.add_error(None, str(problem))
        else:
            return redirect("vehicles")
    shelf = list(ShelfVehicle.objects.select_related("piece"))
    context = {"vehicles": _rows(shelf), "form": form}
    return render(request, "formation/vehicles.html", context, status=400 if form.errors else 200)


@require_http_methods(["GET", "POST"])
def vehicle(request: HttpRequest, pk: int) -> HttpResponse:
    """Show and change one vehicle, or take it off the shelf."""
    found = lookup.one(ShelfVehicle.objects.all(), pk)
    if request.POST.get("what") == "remove":
        services.remove_vehicle(vehicle=found)
        return redirect("vehicles")
    form = VehicleForm(request.POST or None, initial=initial(found, VehicleForm))
    if request.method == "POST" and form.is_valid():
        try:
            services.change_vehicle(vehicle=found, **form.cleaned_data)
        except InputError as problem:
            form.add_error(None, str(problem))
        else:
            return redirect("vehicles")
    context = {"vehicle": found, "form": form, "row": _rows([found])[0]}
    return render(request, "formation/vehicle.html", context, status=400 if form.errors else 200)


def _rows(shelf: list[ShelfVehicle]) -> list[Row]:
    measured = queries.measured_of(shelf)
    return [Row(v, queries.rolling_of(v, measured.get(v.pk)), measured.get(v.pk)) for v in shelf]
