"""Why there is no train, and the fewest demands that must give way, against brute force."""

import random
from dataclasses import replace

import pytest

from outshop.formation.joints import turning
from outshop.formation.recipes import Recipe, Rule
from outshop.formation.scene import Section
from outshop.formation.shape import shape_of
from outshop.formation.task import prepare_task
from outshop.formation.why import _clauses, explain

from .rules_by_hand import KINDS, broken_demands, kept, random_recipe, smallest_clashes
from .scenes import random_scene, scene, vehicle

PLENTY_S = 20.0  # so that a busy machine changes no answer; a second is enough
COUPLINGS = (("loop",), ("loop", "hook"), ("loop", "hook", "claw"))


def drawn(seed):
    """Draw a question that rarely has an answer."""
    rng = random.Random(90_000 + seed)
    asked = random_scene(
        rng,
        rng.randint(2, 5),
        rng.randint(1, 8),
        rng.choice(COUPLINGS),
        loop=rng.choice((300.0, 450.0, 600.0, 900.0)),
        pull=rng.choice((4.0, 6.0, 9.0, 14.0, 25.0)),
    )
    shelf = tuple(
        replace(v, kind=rng.choice(KINDS), axles=rng.choice((2, 2, 4)), min_radius_mm=0)
        for v in asked.vehicles
    )
    names = [v.name for v in shelf]
    fixed = rng.sample(names, rng.choice((0, 0, 1, 2))) if len(shelf) > 2 else []
    engine = replace(asked.locomotive, min_radius_mm=0, mass_g=100.0)
    recipe = random_recipe(rng, rng.randint(1, 4))
    rules = tuple(
        replace(r, strength=rng.choice(("forbidden", "forbidden", "typical"))) for r in recipe.rules
    )
    asked = replace(asked, vehicles=shelf, locomotive=engine)
    return replace(asked, wish=replace(asked.wish, fixed=tuple(fixed))), replace(
        recipe, rules=rules
    )


def impossible(number):
    """The first so many questions without an answer, with what each train of them breaks."""
    found, seed = [], 0
    while len(found) < number:
        asked, recipe = drawn(seed)
        broken = broken_demands(asked, recipe)
        seed += 1
        if frozenset() not in broken:
            found.append((seed, asked, recipe, broken))
    return found


@pytest.mark.parametrize(("seed", "asked", "recipe", "broken"), impossible(16))
def test_why_is_a_smallest_clash_and_the_fix_the_fewest_demands_that_help(
    seed, asked, recipe, broken
):
    task = prepare_task(asked, recipe)
    told = explain(task)
    assert told.proven
    clauses = _clauses(task)
    by_sentence = {c.sentence: c.key for c in clauses}
    assert {by_sentence[w] for w in told.why} in smallest_clashes(broken)
    fewest = min(len(one) for one in broken)
    helping = {one for one in broken if len(one) == fewest}
    if fewest == 1:
        assert len(told.smallest_fix) == len(helping)
    elif fewest <= 3:
        by_fix = {c.fix: c.key for c in clauses}
        sets = [fix.removeprefix("together: ").split("; and ") for fix in told.smallest_fix]
        assert {frozenset(by_fix[f] for f in one) for one in sets} == helping


def demanding(*rules):
    kept_rules = tuple(
        Rule(i, test, "forbidden", f"{i}.", "drawn", args) for i, test, args in rules
    )
    return Recipe("drawn", "drawn", (), kept_rules)


def large_shelf(number=200):
    rng = random.Random(4)
    return [
        vehicle(f"v{i}", float(rng.randint(80, 160)), float(rng.randint(40, 90)), kind=k)
        for i, k in enumerate(rng.choices(KINDS, k=number))
    ]


def test_rules_of_order_that_clash_on_a_large_shelf_are_told_with_proof():
    recipe = demanding(
        ("head", "place", {"select": ["brake-van"], "at": "first"}),
        ("not-head", "place", {"select": ["brake-van"], "at": "not-first"}),
        ("some", "count", {"select": ["brake-van"], "min": 1}),
        ("goods", "count", {"select": ["open"], "min": 1}),
    )
    asked = scene([Section(2000, 10)], large_shelf(), loop_mm=900)
    told = explain(prepare_task(asked, recipe), seconds=PLENTY_S)
    assert told.proven
    assert {w.split(":")[0] for w in told.why} == {"head", "not-head", "some"}
    assert len(told.smallest_fix) == 3


def test_number_that_no_loop_takes_is_told_with_proof_on_a_large_shelf():
    recipe = demanding(("many", "count", {"select": ["open"], "min": 14}))
    asked = scene([Section(2000)], large_shelf(), loop_mm=900)
    told = explain(prepare_task(asked, recipe), seconds=PLENTY_S)
    assert told.proven
    assert told.why == ("the loops take 900 mm", "many: many.")
    assert told.smallest_fix[0].startswith("a loop of ")


def test_engine_too_weak_for_any_wagon_of_a_large_shelf_is_told_with_proof():
    asked = scene([Section(2000, 30)], large_shelf(), engine_mass=50, pull=2.0, loop_mm=900)
    told = explain(prepare_task(asked), seconds=PLENTY_S)
    assert told.proven
    assert told.why == ("the train must haul with 2 g of pull",)


@pytest.mark.parametrize("seed", range(12))
def test_shape_takes_just_the_trains_whose_joints_and_rules_of_order_hold(seed):
    rng = random.Random(seed)
    ends = rng.choice(COUPLINGS)
    shelf = [
        vehicle(f"v{i}", kind=rng.choice(KINDS), couplings=(rng.choice(ends), rng.choice(ends)))
        for i in range(12)
    ]
    recipe = random_recipe(rng, 4)
    about_order = [r for r in recipe.rules if r.test in {"place", "order", "together", "apart"}]
    task = prepare_task(scene([], shelf, loop_mm=9000))
    shape = shape_of(task, about_order)
    seen = set()
    for _ in range(400):
        train = tuple(rng.sample(task.vehicles, rng.randint(1, 5)))
        fine = turning("loop", train) is not None and all(kept(r, train) for r in about_order)
        assert taken(shape, [task.vehicles.index(v) for v in train]) is fine
        seen.add(fine)
    assert seen == {True, False} or not about_order


def taken(shape, order) -> bool:
    """Walk all ways of turning through a shape."""
    states = {0}
    for number in order:
        variants = [k for k, i in enumerate(shape.who) if i == number]
        states = {int(shape.follow[s, k]) for s in states for k in variants}
        states.discard(len(shape.final))
    return any(shape.final[s] for s in states)
