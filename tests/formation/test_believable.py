"""Believable trains, alone and sharing a shelf, against brute force; random rules of every test."""

import random
from dataclasses import replace

import pytest

from outshop.formation import solve as solving
from outshop.formation.solve import solve
from outshop.formation.task import prepare_task
from outshop.formation.timetable import fill_timetable

from .rules_by_hand import (
    KINDS,
    WEIGHT,
    best_believable_by_brute_force,
    best_of_each_set,
    best_sharing,
    kept,
    random_recipe,
    score_by_hand,
)
from .scenes import random_scene

COUPLINGS = (("loop",), ("loop", "hook"))


def drawn(seed, most):
    """Draw a scene whose vehicles have kinds, axles and countries, and a recipe for it."""
    rng = random.Random(50_000 + seed)
    asked = random_scene(
        rng,
        rng.randint(2, most),
        rng.randint(1, 12),
        rng.choice(COUPLINGS),
        loop=rng.choice((600.0, 900.0, 1400.0)),
        pull=rng.choice((8.0, 12.0, 20.0, 40.0)),
    )
    shelf = tuple(
        replace(
            v,
            kind=rng.choice(KINDS),
            axles=rng.choice((2, 2, 4)),
            country=rng.choice(("D", "F", "")),
        )
        for v in asked.vehicles
    )
    return replace(asked, vehicles=shelf), random_recipe(rng, rng.randint(2, 7))


def figures(train, recipe):
    """Score by the documented weights, number and length of a train."""
    met = sum(WEIGHT[r.strength] for r in recipe.rules if kept(r, train))
    total = sum(WEIGHT[r.strength] for r in recipe.rules)
    return 100 * met / total, len(train), sum(v.length_mm for v in train)


@pytest.mark.parametrize("seed", range(30))
def test_believable_equals_brute_force_in_score_number_and_length(seed):
    asked, recipe = drawn(seed, 6)
    truth = best_believable_by_brute_force(asked, recipe)
    found = solve(prepare_task(asked, recipe), "believable")
    assert found.best_of_equals
    assert bool(found.trains) is (truth is not None)
    if truth is not None:
        assert figures(found.trains[0], recipe) == pytest.approx(truth)


@pytest.mark.parametrize("seed", range(503, 507))
def test_steps_for_a_large_shelf_find_the_same_as_brute_force(seed, monkeypatch):
    monkeypatch.setattr(solving, "SMALL", 0)  # bounds, climbs and questions one by one
    asked, recipe = drawn(seed, 5)
    truth = best_believable_by_brute_force(asked, recipe)
    found = solving.solve(prepare_task(asked, recipe), "believable", seconds=5.0)
    assert bool(found.trains) is (truth is not None)
    if truth is not None:
        score, number, _ = truth
        here = figures(found.trains[0], recipe)
        assert here[0] == pytest.approx(score) or not found.proven
        assert here == pytest.approx(truth) or not found.best_of_equals
        assert found.most["vehicles"] >= number or here[0] < score


@pytest.mark.parametrize("seed", range(12))
def test_timetable_of_two_trains_equals_brute_force_over_all_sharings(seed):
    aim = "longest" if seed % 3 == 2 else "believable"
    pair = [drawn(1000 + seed, 6), drawn(2000 + seed, 6)]
    names = ("one", "other")
    recipes = {n: replace(r, id=n) for n, (_, r) in zip(names, pair, strict=True)}
    scenes = [
        replace(a, vehicles=pair[0][0].vehicles, wish=replace(a.wish, recipe=n))
        for n, (a, _) in zip(names, pair, strict=True)
    ]
    filled = fill_timetable(scenes, aim, recipes=recipes, seconds=6)
    tables = [best_of_each_set(a, recipes[a.wish.recipe]) for a in scenes]
    trains = [
        (recipes[n], t.vehicles) for n, t in zip(names, filled.trains, strict=True) if t is not None
    ]
    score = sum(score_by_hand(r, t) for r, t in trains) if aim == "believable" else 0.0
    number = sum(len(t) for _, t in trains)
    assert len({v.name for _, t in trains for v in t}) == number
    assert filled.proven
    assert (len(trains), round(score, 6), number) == best_sharing(tables, aim)
