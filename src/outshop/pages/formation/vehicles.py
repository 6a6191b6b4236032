"""Wagons and coaches on the shelf."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from outshop.errors import InputError
from outshop.pages import fields, lookup
from outshop.pages.formation.forms import VehicleForm
from outshop.pages.formation.lines import initial
from outshop.records.models import ShelfVehicle
from outshop.records.services import formations as services


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
    context = {"vehicles": ShelfVehicle.objects.all(), "form": form}
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
    context = {"vehicle": found, "form": form}
    return render(request, "formation/vehicle.html", context, status=400 if form.errors else 200)
