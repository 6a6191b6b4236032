"""Close what search and bound leave open, with the constraint model."""

from collections.abc import Collection
from dataclasses import replace

from outshop.formation.bounding import binding, bound_all, price, set_score
from outshop.formation.exact import Demand, prove
from outshop.formation.rules import WEIGHTS
from outshop.formation.state import State

MOST_HEADS = 12  # of the bound's heads that the exact search starts with


def close_at_once(state: State, seconds: float) -> bool:
    """Close a small question in one go; tell whether that was done."""
    demand = Demand(state.aim, len(state.task.vehicles), at_least=state.train)
    answer = prove(state.task, demand, seconds)
    if answer.train is not None:
        state.train = answer.train
    state.proven = answer.closed
    if state.proven and state.train is not None:
        state.score, state.vehicles, state.length = state.value
    return state.proven


def close_in_steps(state: State) -> None:
    """Ask for a better score, then for one vehicle more, then for a longer train.

    Each is asked apart: "is there a train of just so many vehicles" is answered far sooner than
    "what is the best train".
    """
    if state.train is None:
        return
    closed = _no_better_score(state) and _no_more_vehicles(state) and _no_longer(state)
    state.proven = closed


def _ask(state: State, demand: Demand, left: Collection[int] = ()) -> bool:
    """Ask the exact search, of some vehicles only; take a train it finds. True if none is."""
    task = state.task
    if left:
        task = replace(task, vehicles=tuple(task.vehicles[i] for i in sorted(left)))
    answer = prove(task, demand, state.left)
    if answer.train is not None:
        state.train = answer.train
    return answer.closed and answer.train is None


def _no_better_score(state: State) -> bool:
    while state.score_open():
        before = state.train
        demand = Demand(
            state.aim,
            state.vehicles,
            met=state.met + 1,
            heads=state.heads[:MOST_HEADS],
            any_will_do=True,
        )
        if _ask(state, demand):
            set_score(state, sum(WEIGHTS[r.strength] for r in state.possible) - state.met)
            bound_all(state)
            break
        if state.train is before:
            return False
    return True


def _no_more_vehicles(state: State) -> bool:
    number = state.vehicles
    while number > state.number:
        before = state.train
        demand = Demand(
            state.aim,
            number,
            number=number,
            met=state.met,
            heads=state.heads[:MOST_HEADS],
            any_will_do=True,
        )
        left = _left(state, number)
        lost = any(i not in left for i in state.judge.fixed)
        if len(left) < number or lost or _ask(state, demand, left):
            number -= 1
            state.vehicles = number
        elif state.train is before:
            return False
    return True


def _left(state: State, number: int) -> set[int]:
    """Give the vehicles that some way of keeping the rules leaves for so many vehicles."""
    left: set[int] = set()
    for way in binding(state):
        if price(state, number, way) >= number:
            left |= set(state.bound.places_left(number))
    return left


def _no_longer(state: State) -> bool:
    number = state.number
    length = state.value[2]
    if length >= state.length:
        return True
    demand = Demand(
        state.aim,
        number,
        number=number,
        met=state.met,
        heads=state.heads[:MOST_HEADS],
        longer_than=length,
    )
    answer = prove(state.task, demand, state.left)
    if answer.train is not None:
        state.train = answer.train
    if answer.closed:
        state.length = state.value[2]
    return answer.closed
