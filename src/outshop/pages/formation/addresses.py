"""Addresses of the formation pages."""

from django.urls import path

from outshop.pages.formation import lines, swaps, timetable, trains, vehicles, wishes

urlpatterns = [
    path("trains/", trains.trains, name="trains"),
    path("trains/timetable/", timetable.timetable, name="timetable"),
    path("train/new/", trains.new, name="train_new"),
    path("train/<int:pk>/", trains.train, name="train"),
    path("train/<int:pk>/edit/", trains.edit, name="train_edit"),
    path("train/<int:pk>/make-up/", trains.make_up, name="train_make_up"),
    path("train/<int:pk>/missing/", wishes.wanting, name="train_missing"),
    path("train/<int:pk>/demands/", wishes.demands, name="train_demands"),
    path("train/<int:pk>/remove/", trains.remove, name="train_remove"),
    path("train/<int:pk>/card.pdf", trains.card, name="train_card"),
    path("train/<int:pk>/place/<int:place>/", swaps.place, name="train_place"),
    path("lines/", lines.lines, name="lines"),
    path("line/<int:pk>/", lines.line, name="line"),
    path("vehicles/", vehicles.vehicles, name="vehicles"),
    path("vehicle/<int:pk>/", vehicles.vehicle, name="vehicle"),
]
