"""The believable train against brute force, with random rules of every test."""

import random
from dataclasses import replace

import pytest

from outshop.formation.solve import solve
from outshop.formation.task import prepare_task

from .rules_by_hand import KINDS, WEIGHT, best_believable_by_brute_force, kept, random_recipe
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


@pytest.mark.parametrize("seed", range(60))
def test_believable_equals_brute_force_in_score_number_and_length(seed):
    asked, recipe = drawn(seed, 6)
    truth = best_believable_by_brute_force(asked, recipe)
    found = solve(prepare_task(asked, recipe), "believable")
    assert found.best_of_equals
    assert bool(found.trains) is (truth is not None)
    if truth is not None:
        assert figures(found.trains[0], recipe) == pytest.approx(truth)
