"""The solver against brute force over all choices, orders and turnings, and relations."""

import random
from dataclasses import replace

import pytest

from outshop.formation.bound import PathBound
from outshop.formation.recipes import find_recipe
from outshop.formation.scene import Section
from outshop.formation.solve import solve, value_of
from outshop.formation.task import prepare_task, units

from .scenes import best_by_brute_force, couples, needed_at_crossings, random_scene, scene, vehicle

COUPLINGS = (("loop",), ("loop", "hook"), ("loop", "hook", "claw"))


def drawn(seed):
    rng = random.Random(seed)
    return random_scene(
        rng,
        rng.randint(1, 6),
        rng.randint(1, 10),
        rng.choice(COUPLINGS),
        loop=rng.choice((600.0, 900.0, 1400.0)),
        pull=rng.choice((8.0, 12.0, 20.0, 40.0)),
        tenths=seed % 3 == 0,
    )


@pytest.mark.parametrize("seed", range(40))
def test_longest_equals_brute_force(seed):
    asked = drawn(seed)
    number, length = best_by_brute_force(asked)
    found = solve(prepare_task(asked))
    assert found.proven
    train = found.trains[0] if found.trains else ()
    assert len(train) == number
    assert sum(v.length_mm for v in train) == pytest.approx(length)


@pytest.mark.parametrize("seed", range(100, 112))
def test_every_train_found_hauls_fits_and_couples(seed):
    asked = drawn(seed)
    for train in solve(prepare_task(asked), count=3).trains:
        assert needed_at_crossings(asked, train) <= asked.locomotive.pull_g + 1e-9
        total = asked.locomotive.length_mm + sum(v.length_mm for v in train)
        assert total <= asked.wish.loop_mm + 1e-9
        assert couples("loop", train)
        assert len({v.name for v in train}) == len(train)


@pytest.mark.parametrize("seed", range(8))
def test_less_pull_never_gives_a_better_train(seed):
    asked = drawn(seed)
    weaker = replace(
        asked, locomotive=replace(asked.locomotive, pull_g=0.7 * asked.locomotive.pull_g)
    )
    assert best(weaker) <= best(asked)


@pytest.mark.parametrize("seed", range(8))
def test_removing_a_vehicle_never_improves_the_best_train(seed):
    asked = drawn(seed)
    assert best(replace(asked, vehicles=asked.vehicles[1:])) <= best(asked)


def test_low_end_of_the_pull_is_what_counts():
    asked = scene(
        [Section(1000)], [vehicle(f"w{i}", mass=100) for i in range(6)], pull=10, loop_mm=2000
    )
    low = replace(asked, locomotive=replace(asked.locomotive, low_g=6.0))
    assert len(solve(prepare_task(asked)).trains[0]) == 5
    assert len(solve(prepare_task(low)).trains[0]) == 3


def test_vehicle_is_turned_where_that_helps():
    shelf = [vehicle("a", couplings=("hook", "loop")), vehicle("b", couplings=("hook", "hook"))]
    found = solve(prepare_task(scene([Section(1000)], shelf, loop_mm=900)))
    assert [v.name for v in found.trains[0]] == ["a", "b"]


def test_fixed_vehicle_is_in_and_forbidden_one_is_out():
    shelf = [vehicle(f"w{i}", mass=50 + 10 * i) for i in range(6)]
    asked = scene([Section(1000)], shelf, pull=4, loop_mm=2000, fixed=("w5",), forbidden=("w0",))
    names = {v.name for v in solve(prepare_task(asked)).trains[0]}
    assert "w5" in names
    assert "w0" not in names


def test_year_sets_vehicles_aside():
    shelf = [vehicle("old", years="1900/1920"), vehicle("new", years="1950/..")]
    asked = scene([Section(1000)], shelf, loop_mm=2000, year=1958)
    task = prepare_task(asked)
    assert [v.name for v in task.vehicles] == ["new"]
    assert task.aside == (("old", "ran 1900/1920, not in 1958"),)


def test_trains_differ_by_a_fifth_of_their_vehicles():
    shelf = [vehicle(f"w{i}", mass=50 + i) for i in range(10)]
    asked = scene([Section(1000)], shelf, pull=6, loop_mm=2000)
    found = solve(prepare_task(asked), count=4).trains
    assert len(found) == 4
    for i, one in enumerate(found):
        for other in found[i + 1 :]:
            shared = {v.name for v in one} & {v.name for v in other}
            assert len(shared) <= 0.8 * min(len(one), len(other))


@pytest.mark.parametrize("seed", range(6))
def test_bounds_are_never_below_the_truth(seed):
    asked = drawn(seed)
    number, length = best_by_brute_force(asked)
    task = prepare_task(asked)
    if not number:
        return
    bound = PathBound(task)
    whole = int(task.profile.borders[-1]) + 2 * task.room_units
    bound.add_heads([whole * k // 40 for k in range(1, 40)])
    assert bound.count(0.0, 0.5).value >= number - 1e-6
    assert bound.length(number, 0.0, 0.5).value >= units(length) - 1000


def test_large_shelf_gives_a_bound_no_smaller_than_the_train():
    asked = random_scene(random.Random(1), 60, 12, loop=2000.0, pull=30.0)
    found = solve(prepare_task(asked), seconds=2.0)
    number = len(found.trains[0])
    assert needed_at_crossings(asked, found.trains[0]) <= 30 + 1e-9
    assert number <= found.most["vehicles"] <= 1.25 * number


def test_believable_goods_train_has_its_van_behind_the_engine():
    kinds = ("covered", "open", "flat", "brake-van", "covered", "open", "tank", "stake", "covered")
    shelf = [vehicle(f"{k} {i}", kind=k, built=str(1930 + i)) for i, k in enumerate(kinds)]
    asked = scene([Section(3000, 10)], shelf, loop_mm=2000, year=1958, country="D", recipe="goods")
    task = prepare_task(asked, find_recipe("goods"))
    found = solve(task, "believable")
    assert found.proven
    assert found.trains[0][0].kind == "brake-van"
    assert value_of(task, found.trains[0])[0] == pytest.approx(100)


def best(asked):
    task = prepare_task(asked)
    found = solve(task)
    assert found.proven
    return value_of(task, found.trains[0])[1:] if found.trains else (0, 0)
