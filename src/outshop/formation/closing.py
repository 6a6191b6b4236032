"""Close what search and bound leave open, with the constraint model."""

from collections.abc import Collection
from dataclasses import replace

from outshop.formation.bounding import binding, bound_all, price, set_score
from outshop.formation.exact import Demand, prove
from outshop.formation.rulerows import least_number
from outshop.formation.rules import WEIGHTS
from outshop.formation.search import as_train
from outshop.formation.state import State, hard_heads

MOST_NUMBERS = 20  # vehicles up to which each number is asked for a better score apart
MOST_HEADS = 40  # that the exact search starts with; with few it has to find the rest one by one


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


def _heads(state: State, number: int) -> list[int]:
    """Give the heads that are hardest for the lightest train of so many vehicles.

    With these from the start, "there is none" is often shown in a second, with others in many.
    """
    light = dict.fromkeys((*sorted(state.judge.fixed), *state.judge.light.tolist()))
    return hard_heads(state.task, as_train(state.task, tuple(light)[:number]))[:MOST_HEADS]


def _no_better_score(state: State) -> bool:
    """Ask for a better score at each number of vehicles apart; short trains close far sooner so."""
    while state.score_open():
        before = state.train
        several = state.vehicles <= MOST_NUMBERS
        for number in _numbers(state) if several else (None,):
            demand = Demand(
                state.aim,
                number or state.vehicles,
                number=number,
                met=state.met + 1,
                heads=_heads(state, number or state.vehicles),
                any_will_do=True,
            )
            if not _ask(state, demand):
                break
        else:
            set_score(state, sum(WEIGHTS[r.strength] for r in state.possible) - state.met)
            bound_all(state)
            break
        if state.train is before:
            return False
    return True


def _numbers(state: State) -> range:
    """Give the numbers that a train with a better score may have."""
    if state.met_at_most > state.met + 1:
        return range(1, state.vehicles + 1)
    least = min(least_number(state.task, way) for way in state.ways)
    return range(least, min(state.vehicles, state.better_vehicles) + 1)


def _no_more_vehicles(state: State) -> bool:
    number = state.vehicles
    while number > state.number:
        before = state.train
        demand = Demand(
            state.aim,
            number,
            number=number,
            met=state.met,
            heads=_heads(state, number),
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
        heads=_heads(state, number),
        longer_than=length,
    )
    answer = prove(state.task, demand, state.left)
    if answer.train is not None:
        state.train = answer.train
    if answer.closed:
        state.length = state.value[2]
    return answer.closed
