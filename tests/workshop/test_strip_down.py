"""The least opening: checked against trying every set of removals on 500 random plans."""

from itertools import chain, combinations, pairwise

import numpy as np
import pytest

from outshop.errors import InputError, KnowledgeError, MissingError
from outshop.workshop.cautions import all_cautions
from outshop.workshop.parts import all_parts
from outshop.workshop.plans import (
    all_plans,
    plan_as_json,
    plan_for,
    plan_from_json,
    removal_from,
    with_removal,
    without_removal,
)
from outshop.workshop.strip_down import (
    Removal,
    StripPlan,
    find_loop,
    goals_for,
    least_opening,
)


def random_plan(rng):
    """Two to nine removals with up to three ways each, loops and rivals allowed."""
    size = int(rng.integers(2, 10))
    names = [f"r{i}" for i in range(size)]
    removals = []
    for name in names:
        others = [n for n in names if n != name]
        ways = []
        for _ in range(int(rng.integers(0, 4))):
            count = int(rng.integers(0, min(3, len(others)) + 1))
            ways.append(tuple(rng.choice(others, count, replace=False).tolist()))
        rivals = tuple(rng.choice(others, 1).tolist()) if rng.random() < 0.15 else ()
        minutes = float(rng.integers(1, 10))
        removals.append(Removal(name, name, ways=tuple(ways), minutes=minutes, never_with=rivals))
    goals = rng.choice(names, int(rng.integers(1, min(3, size) + 1)), replace=False).tolist()
    return StripPlan("random", tuple(removals)), goals


def can_come_off(plan, group):
    """Take off whatever can come off within the group; true when all of it does."""
    off = set()
    while True:
        fresh = {
            r.id
            for r in plan.removals
            if r.id in group - off and (not r.ways or any(set(w) <= off for w in r.ways))
        }
        if not fresh:
            return off == group
        off |= fresh


def at_peace(plan, group):
    return not any(r.id in group and set(r.never_with) & group for r in plan.removals)


def by_trying_all(plan, goals):
    """Slow and readable: the best cost over every set that holds the goals, or None."""
    names = [r.id for r in plan.removals]
    minutes = {r.id: r.minutes for r in plan.removals}
    every = chain.from_iterable(combinations(names, n) for n in range(len(names) + 1))
    valid = [set(s) for s in every if set(goals) <= set(s) and can_come_off(plan, set(s))]
    apart = [s for s in valid if at_peace(plan, s)]
    costs = [(len(s), sum(minutes[n] for n in s)) for s in apart or valid]
    return min(costs, default=None), bool(apart)


def cost_of(opening):
    return len(opening.removals), sum(r.minutes for r in opening.removals)


def is_valid_order(opening):
    off = set()
    for r in opening.removals:
        if r.ways and not any(set(way) <= off for way in r.ways):
            return False
        off.add(r.id)
    return True


@pytest.mark.parametrize("seed", range(10))
def test_the_opening_is_smallest_and_in_a_valid_order(seed):
    """500 random plans in all; loops must be refused exactly when no set is valid."""
    rng = np.random.default_rng(seed)
    for _ in range(50):
        plan, goals = random_plan(rng)
        best, apart = by_trying_all(plan, goals)
        if best is None:
            with pytest.raises(KnowledgeError, match="wait for each other: r"):
                least_opening(plan, goals)
            continue
        opening = least_opening(plan, goals)
        assert cost_of(opening) == best
        assert opening.proven
        assert is_valid_order(opening)
        assert bool(opening.warnings) != apart
        assert opening.reassembly == opening.removals[::-1]
        assert opening.minutes == pytest.approx(2 * best[1])


def test_the_named_loop_is_a_loop_of_the_plan():
    rng = np.random.default_rng(77)
    loops = 0
    for _ in range(200):
        plan, _ = random_plan(rng)
        loop = find_loop(plan)
        everything = {r.id for r in plan.removals}
        assert bool(loop) != can_come_off(plan, everything)
        if loop:
            loops += 1
            assert loop[0] == loop[-1]
            for first, second in pairwise(loop):
                assert any(second in way for way in plan.removal(first).ways)
    assert loops > 20


def test_the_cheaper_of_two_ways_is_taken():
    plan = StripPlan(
        "x",
        (
            Removal("body", "Body", minutes=5),
            Removal("cap", "Cap", minutes=1),
            Removal("brush", "Brush", ways=(("body",), ("cap",))),
        ),
    )
    assert [r.id for r in least_opening(plan, ["brush"]).removals] == ["cap", "brush"]
    both = least_opening(plan, ["brush", "body"])
    assert [r.id for r in both.removals] == ["body", "brush"]


def test_one_side_only_unless_both_are_wanted():
    plan = plan_for("tank-steam")
    one = least_opening(plan, ["wheelset"])
    assert len({"rods-left", "rods-right"} & {r.id for r in one.removals}) == 1
    assert not one.warnings
    both = least_opening(plan, ["rods-left", "rods-right"])
    assert "both be off" in both.warnings[0]


def test_a_part_the_model_lacks_is_taken_as_off():
    plan = plan_for("rod-drive")
    names = [r.id for r in least_opening(plan, ["body"], absent=["pantographs"]).removals]
    assert names == ["body"]


@pytest.mark.parametrize("construction", sorted(all_plans()))
def test_each_construction_can_be_taken_apart_altogether_and_knows_its_cautions(construction):
    plan = plan_for(construction)
    assert find_loop(plan) == ()
    opening = least_opening(plan, [r.id for r in plan.removals])
    assert is_valid_order(opening)
    assert len(opening.removals) == len(plan.removals)
    known = {c.id for c in all_cautions()}
    for r in plan.removals:
        assert set(r.cautions) <= known
        assert r.text
        assert r.back_title
        assert r.back_text
    parts = {p.id for p in all_parts()} | {"chassis"}
    assert set(plan.reach) <= parts
    assert plan_from_json(plan_as_json(plan)) == plan


def test_a_plan_is_adapted_by_adding_and_taking_out():
    plan = plan_for("bogie")
    roof = Removal("roof", "Take the roof off", ways=(("body",),))
    more = with_removal(plan, roof)
    assert [r.id for r in least_opening(more, ["roof"]).removals] == ["body", "roof"]
    assert with_removal(more, roof) == more
    assert goals_for(plan, ["axle", "brushes"]) == ("bogie-cover", "brushes")
    less = without_removal(more, "body")
    assert [r.id for r in least_opening(less, ["roof"]).removals] == ["roof"]
    assert "body" not in [n for names in less.reach.values() for n in names]


@pytest.mark.parametrize(
    ("make", "error", "sentence"),
    [
        (lambda: least_opening(plan_for(), ["wing"]), MissingError, "asked for is 'wing'"),
        (lambda: without_removal(plan_for(), "wing"), MissingError, "not in the plan; it has body"),
        (lambda: plan_for("airship"), MissingError, "no plan is called 'airship'"),
        (
            lambda: StripPlan("x", (Removal("a", "A", ways=(("b",),)),)),
            MissingError,
            "A waits for 'b'",
        ),
        (lambda: StripPlan("x", (Removal("a", "A"),) * 2), InputError, "holds a twice"),
        (lambda: Removal("a", "A", minutes=-1), InputError, "got -1"),
        (lambda: Removal("", "A"), InputError, "needs a key"),
        (lambda: removal_from({"id": "a", "colour": 1}), InputError, "not a removal"),
        (lambda: plan_from_json({"name": "x"}), InputError, "not a strip-down plan"),
    ],
)
def test_bad_plans_are_told_in_a_sentence(make, error, sentence):
    with pytest.raises(error, match=sentence):
        make()


def test_a_loop_is_named_with_its_removals():
    plan = StripPlan(
        "x",
        (
            Removal("a", "A", ways=(("b",),)),
            Removal("b", "B", ways=(("c",),)),
            Removal("c", "C", ways=(("a",),)),
            Removal("d", "D"),
        ),
    )
    assert least_opening(plan, ["d"]).removals
    with pytest.raises(KnowledgeError, match="a → b → c → a; take one link out"):
        least_opening(plan, ["a"])
