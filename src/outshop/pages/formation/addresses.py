"""Addresses of the formation pages."""

from django.urls import path

from outshop.pages.formation import (
    choices,
    lines,
    recipes,
    swaps,
    timetable,
    trains,
    vehicles,
    wishes,
)

urlpatterns = [
    path("trains/", trains.trains, name="trains"),
    path("trains/timetable/", timetable.timetable, name="timetable"),
    path("train/new/", trains.new, name="train_new"),
    path("train/<int:pk>/", trains.train, name="train"),
    path("train/<int:pk>/edit/", trains.edit, name="train_edit"),
    path("train/<int:pk>/choices/", choices.choices, name="train_choices"),
    path("train/<int:pk>/put/", trains.put, name="train_put"),
    path("train/<int:pk>/missing/", wishes.wanting, name="train_missing"),
    path("train/<int:pk>/demands/", wishes.demands, name="train_demands"),
    path("train/<int:pk>/free/", wishes.free, name="train_free"),
    path("train/<int:pk>/remove/", trains.remove, name="train_remove"),
    path("train/<int:pk>/card.pdf", trains.card, name="train_card"),
    path("train/<int:pk>/place/<int:place>/", swaps.place, name="train_place"),
    path("lines/", lines.lines, name="lines"),
    path("line/<int:pk>/", lines.line, name="line"),
    path("recipes/", recipes.recipes, name="recipes"),
    path("recipe/new/", recipes.new, name="recipe_new"),
    path("recipe/<int:pk>/", recipes.recipe, name="recipe"),
    path("recipe/shipped/<str:key>/", recipes.shipped_one, name="recipe_shipped"),
    path("vehicles/", vehicles.vehicles, name="vehicles"),
    path("vehicle/<int:pk>/", vehicles.vehicle, name="vehicle"),
]
