"""Bound what a state still leaves open, with the rules that a better train would keep."""

from collections.abc import Sequence
from math import inf

from outshop.formation.exact import Train
from outshop.formation.recipes import Rule
from outshop.formation.rulerows import (
    least_number,
    possible_rules,
    rows_of,
    ways_to_meet,
)
from outshop.formation.rules import WEIGHTS
from outshop.formation.search import as_train
from outshop.formation.shape import near_engine, shape_of
from outshop.formation.state import State, hard_heads

NUMBER_S, LENGTH_S = 2.0, 1.0  # most time for one bound
EDGE = 1e-6  # of a vehicle: rounding of floats

FEW = 3  # lightest vehicles that stand for a train as long as none is known

Rules = Sequence[Rule]


def begin_bounds(state: State) -> None:
    """Set the bounds that need no search: all vehicles, the whole loop, the rules the shelf has."""
    rules = state.judge.rules
    state.vehicles, state.length = len(state.task.vehicles), state.task.room_units
    state.possible = possible_rules(state.task, rules)
    set_score(state, 0, [state.possible])


def set_score(state: State, lack: int, ways: Sequence[tuple[Rule, ...]] = ()) -> None:
    """Set the best score: all possible rules but some that weigh ``lack``.

    Parameters
    ----------
    state : State
        To be changed.
    lack : int
        Weight of the rules that are not met.
    ways : sequence of tuple of Rule, optional
        The sets of rules that may be kept then; all of that weight where not given.
    """
    total = sum(WEIGHTS[r.strength] for r in state.judge.rules)
    state.met_at_most = sum(WEIGHTS[r.strength] for r in state.possible) - lack
    state.score = 100.0 * state.met_at_most / total if total else 100.0
    state.ways = tuple(ways or ways_to_meet(state.possible, lack))
    state.better_vehicles = len(state.task.vehicles)


def bound_all(state: State) -> None:
    """Bound the score, then the number, and, where the number is reached, the length.

    A score has one or more ways to meet it, each a set of rules kept; the bound of the number is
    the largest of all ways. As long as the score is open, only the forbidden rules bind.
    """
    state.bound.add_heads(hard_heads(state.task, state.train or _lightest(state)))
    if state.train is not None and state.score_open():
        _bound_score(state)
    ways = binding(state)
    if state.number < state.vehicles:
        state.vehicles = min(state.vehicles, max(_number(state, way) for way in ways))
    if state.train is not None and state.number >= state.vehicles and not state.meets_bounds():
        state.length = min(state.length, max(_length(state, way) for way in ways))


def _lightest(state: State) -> Train:
    """Give the fixed vehicles and the lightest ones: where even these are hard to haul matters."""
    order = dict.fromkeys((*sorted(state.judge.fixed), *state.judge.light[:FEW].tolist()))
    return as_train(state.task, tuple(order))


def binding(state: State) -> list[tuple[Rule, ...]]:
    """Give the sets of rules of which a better train keeps one."""
    if state.aim == "believable" and not state.score_open():
        return list(state.ways)
    return [tuple(r for r in state.judge.rules if r.strength == "forbidden")]


def price(state: State, number: int, rules: Rules) -> int:
    """Bound the trains of just so many vehicles that keep rules, and set the prices for it."""
    state.bound.set_shape(shape_of(state.task, near_engine(rules)))
    state.bound.set_rows(rows_of(state.task, rules, number))
    return _count(state, number - 1)


def _count(state: State, target: int) -> int:
    found = state.bound.count(float(target), min(NUMBER_S, state.share * state.left))
    state.heads = found.heads
    return max(0, int(found.value + EDGE)) if found.value > -inf else 0


def _bound_score(state: State) -> None:
    """Exclude scores from the best downwards: each by all ways to meet it."""
    most = sum(WEIGHTS[r.strength] for r in state.possible)
    for lack in range(most - state.met_at_most, most - state.met):
        ways = ways_to_meet(state.possible, lack)
        numbers = [_most_of(state, way) for way in ways]
        if max(numbers) > 0:
            alive = [way for way, number in zip(ways, numbers, strict=True) if number]
            set_score(state, lack, alive)
            state.better_vehicles = max(numbers)
            return
    set_score(state, most - state.met)


def _most_of(state: State, rules: Rules) -> int:
    """Bound the vehicles of a train that keeps all rules given; 0 when there is none."""
    least = least_number(state.task, rules)
    state.bound.set_shape(shape_of(state.task, rules))
    state.bound.set_rows(rows_of(state.task, rules))
    number = _count(state, least - 1)
    return number if number >= least else 0


def _number(state: State, rules: Rules) -> int:
    """Bound the number under rules: at each number a share is a whole number of vehicles."""
    state.bound.set_shape(shape_of(state.task, near_engine(rules)))
    state.bound.set_rows(rows_of(state.task, rules))
    number = min(state.vehicles, _count(state, state.number))
    if any(r.test == "share" for r in rules):
        while state.number < number and price(state, number, rules) < number:
            number -= 1
    return max(number, state.number)


def _length(state: State, rules: Rules) -> int:
    state.bound.set_shape(shape_of(state.task, near_engine(rules)))
    state.bound.set_rows(rows_of(state.task, rules, state.vehicles))
    known, most = state.value[2], min(LENGTH_S, state.share * state.left)
    length = state.bound.length(state.vehicles, float(known), most).value
    if length == -inf:  # no way of standing is left
        return known
    step = state.task.step
    return max(known, int(length * (1 + 1e-9) // step) * step)
