"""The solver keeps what the line asks beside hauling: platforms and places for uncoupling."""

import itertools
import random
from dataclasses import replace

import pytest

from outshop.formation.compose import compose
from outshop.formation.search import Judge
from outshop.formation.solve import solve
from outshop.formation.task import prepare_task

from .scenes import needed_at_crossings, random_scene, scene, vehicle

KINDS = ("coach-2", "coach-3", "covered", "luggage", "mail")


def coaches_and_wagons(seed):
    rng = random.Random(seed)
    asked = random_scene(rng, rng.randint(3, 6), 6, loop=1100.0, pull=rng.choice((12.0, 25.0)))
    shelf = tuple(replace(v, kind=rng.choice(KINDS), min_radius_mm=0) for v in asked.vehicles)
    wish = replace(asked.wish, platform_mm=float(rng.choice((150, 300, 450))))
    return replace(asked, vehicles=shelf, wish=wish)


def stands_at_platform(train, platform):
    """Independent of the project: the ends of all coaches, added up from the engine."""
    ends, begin = [], 0.0
    for body in train:
        if body.kind.startswith("coach"):
            ends += [begin, begin + body.length_mm]
        begin += body.length_mm
    return not ends or max(ends) - min(ends) <= platform + 1e-9


def longest_by_brute_force(asked):
    for number in range(len(asked.vehicles), 0, -1):
        lengths = [
            sum(v.length_mm for v in train)
            for train in itertools.permutations(asked.vehicles, number)
            if stands_at_platform(train, asked.wish.platform_mm)
            and sum(v.length_mm for v in train) + asked.locomotive.length_mm <= 1100 + 1e-9
            and needed_at_crossings(asked, train) <= asked.locomotive.pull_g + 1e-9
        ]
        if lengths:
            return number, max(lengths)
    return 0, 0.0


@pytest.mark.parametrize("seed", range(14))
def test_longest_train_with_a_platform_equals_brute_force(seed):
    asked = coaches_and_wagons(seed)
    found = solve(prepare_task(asked))
    assert found.proven
    train = found.trains[0] if found.trains else ()
    assert stands_at_platform(train, asked.wish.platform_mm)
    assert (len(train), sum(v.length_mm for v in train)) == pytest.approx(
        longest_by_brute_force(asked)
    )


def test_large_shelf_keeps_its_coaches_at_the_platform():
    rng = random.Random(3)
    asked = random_scene(rng, 30, 8, loop=1800.0, pull=60.0)
    shelf = tuple(
        replace(v, kind=KINDS[i % 5], min_radius_mm=0) for i, v in enumerate(asked.vehicles)
    )
    asked = replace(asked, vehicles=shelf, wish=replace(asked.wish, platform_mm=400.0))
    train = solve(prepare_task(asked), seconds=2.0).trains[0]
    assert len(train) > 8
    assert stands_at_platform(train, 400.0)


def test_vehicle_that_the_line_cannot_uncouple_is_set_aside_with_the_reason():
    shelf = [vehicle("a"), vehicle("b", couplings=("loop", "hook")), vehicle("c")]
    answer = compose(scene([], shelf, loop_mm=900, couplers=("loop",)))
    assert [v.name for v in answer.trains[0].vehicles] == ["a", "c"]
    assert answer.aside[0][0] == "b"
    assert "hook is not one that the line uncouples (loop)" in answer.aside[0][1]


def test_engine_that_the_line_cannot_uncouple_is_the_reason_for_no_train():
    answer = compose(scene([], [vehicle("a")], loop_mm=900, couplers=("claw",)))
    assert answer.trains == ()
    assert "has loop at its rear" in answer.infeasible.why[0]


def test_platform_is_named_when_it_clashes_with_a_fixed_coach():
    shelf = [vehicle("long", 240, kind="coach-2"), vehicle("van", kind="luggage")]
    why = compose(scene([], shelf, loop_mm=900, platform_mm=200.0, fixed=("long",))).infeasible
    assert why.proven
    assert sorted(s.split()[0] for s in why.why) == ["'long'", "the"]
    assert any("longer platform" in fix for fix in why.smallest_fix)


@pytest.mark.parametrize("seed", range(6))
def test_quick_force_equals_the_exact_walk_whatever_the_line_s_length(seed):
    asked = random_scene(random.Random(seed), 8, 9, tenths=seed % 2 == 0)
    task = prepare_task(replace(asked, line=asked.line if seed < 3 else asked.line[::-1]))
    order = random.Random(seed).sample(range(len(task.vehicles)), len(task.vehicles))
    train = [task.vehicles[i] for i in order]
    judge = Judge(task, "longest")
    assert judge.needed_g(tuple(order)) == pytest.approx(needed_at_crossings(task.scene, train))
    judge.swift.farthest = 2**62  # as on a line too long to be packed into one number
    judge.swift.keys.clear()
    assert judge.needed_g(tuple(order)) == pytest.approx(needed_at_crossings(task.scene, train))
