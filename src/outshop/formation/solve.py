"""The best trains of a shelf: search, bound and proof together.

The search gives a train at once; the path relaxation bounds every aim from above; where both
meet, the train is proven. Where they do not, the constraint model closes or tells the gap.
"""

import time
from collections.abc import Collection
from dataclasses import dataclass, field, replace
from math import ceil

import numpy as np

from outshop.errors import InputError
from outshop.formation import walk as walking
from outshop.formation.bound import PathBound
from outshop.formation.exact import (
    Answer,
    Demand,
    Train,
    broken_heads,
    prove,
    score_of,
    weight_met,
)
from outshop.formation.recipes import Rule
from outshop.formation.rulerows import best_score, rows_of
from outshop.formation.search import Found, Judge, Value, as_train, better, greedy, search
from outshop.formation.task import Task, units

AIMS = ("longest", "believable")
SMALL = 10  # vehicles up to which the exact search goes first
DIFFERENT = 0.2  # share of a train that must differ for it to count as another train
QUICK_STEPS = 3000
QUICK_S = 0.8  # of each search
LEAST_FOR_PROOF_S = 0.3
MOST_HEADS = 12  # of the bound's heads that the exact search starts with
LARGEST_PROVEN = 150  # vehicles; more would only build models and never close them
CLOSE = units(15.0) * 2  # heads nearer than this say the same


@dataclass(frozen=True, slots=True)
class Best:
    """The trains found, best first.

    Parameters
    ----------
    trains : tuple of trains
        Each a tuple of vehicles from the engine backwards.
    proven : bool
        No train of this shelf is better than the first.
    most : dict
        Upper bounds: ``score``, ``vehicles``, ``length_mm`` (engine included).
    first_after_s : float
        Time until the first train.
    """

    trains: tuple[Train, ...]
    proven: bool
    most: dict[str, float] = field(default_factory=dict)
    first_after_s: float = 0.0


@dataclass(slots=True)
class _State:
    """What is known so far about the best train."""

    task: Task
    aim: str
    end: float
    judge: Judge
    bound: PathBound
    train: Train | None = None
    proven: bool = False
    score: float = 100.0
    vehicles: int = 0
    length: int = 0
    heads: tuple[int, ...] = ()
    first_after_s: float = 0.0

    @property
    def left(self) -> float:
        return max(0.0, self.end - time.monotonic())

    @property
    def value(self) -> Value:
        if self.train is None:
            return (-1.0, 0, 0)
        return value_of(self.task, self.train)

    def meets_bounds(self) -> bool:
        score, vehicles, length = self.value
        if self.aim == "believable" and score < self.score - 1e-9:
            return False
        return vehicles >= self.vehicles and length >= self.length


def value_of(task: Task, train: Train) -> Value:
    """Give score, number and length (walk units) of a train."""
    return (score_of(task, train), len(train), sum(units(v.length_mm) for v in train))


def solve(task: Task, aim: str = "longest", count: int = 1, seconds: float = 8.0) -> Best:
    """Find the best train, and ``count`` - 1 others that differ from it and from each other.

    Parameters
    ----------
    task : Task
        The question.
    aim : str
        ``longest``: most vehicles, then the longest train. ``believable``: the best score,
        then most vehicles, then the longest.
    count : int
        Number of trains wanted.
    seconds : float
        Time for the first train and its proof; each further train takes at most a quarter.

    Raises
    ------
    InputError
        The aim is unknown, or the count is below 1.
    """
    if aim not in AIMS:
        message = f"the aim {aim!r} is unknown; it is {' or '.join(AIMS)}"
        raise InputError(message)
    if count < 1:
        message = f"at least one train must be wanted; got {count}"
        raise InputError(message)
    if not can_run(task):
        return Best((), proven=True)
    state = _first(task, aim, seconds)
    if state.train is None:
        return Best((), proven=state.proven)
    trains = [state.train]
    while len(trains) < count:
        other = _another(state, tuple(trains), seconds / 4)
        if other is None:
            break
        trains.append(other)
    most = {
        "score": state.score,
        "vehicles": float(state.vehicles),
        "length_mm": (state.length + units(task.locomotive.length_mm)) / 1_000_000,
    }
    return Best(tuple(trains), state.proven, most, state.first_after_s)


def can_run(task: Task) -> bool:
    """Tell whether the locomotive itself fits the line and some vehicle may run at all."""
    tightest = min((s.radius_mm for s in task.scene.line if s.radius_mm), default=0.0)
    if tightest and task.locomotive.min_radius_mm > tightest:
        return False
    fixed = set(task.scene.wish.fixed) - {v.name for v in task.vehicles}
    return bool(task.vehicles) and task.room_units > 0 and not fixed


def _first(task: Task, aim: str, seconds: float) -> _State:
    begin = time.monotonic()
    judge = Judge(task, aim)
    state = _State(task, aim, begin + seconds, judge, PathBound(task))
    state.vehicles, state.length = len(task.vehicles), task.room_units
    state.score, kept = best_score(task, judge.rules)
    start = greedy(judge)
    small = len(task.vehicles) <= SMALL
    steps = QUICK_STEPS if small else None
    quick = search(judge, min(QUICK_S, seconds / 4), start=start, steps=steps)
    late = time.monotonic() - begin - (quick.spent_s - quick.first_after_s if quick else 0.0)
    _take(state, quick)
    state.first_after_s = late if state.train is not None else 0.0
    if small and _prove(state, len(task.vehicles), seconds / 3):
        return state
    _bound(state, kept)
    provable = len(task.vehicles) <= LARGEST_PROVEN
    for seed in range(2, 4 if provable else 10):
        if state.meets_bounds() or state.left < (seconds / 2 if provable else QUICK_S):
            break
        again = _order(state) or start
        found = search(
            judge,
            min(QUICK_S, state.left / 4),
            start=again,
            seed=seed,
            enough=lambda value: _enough(state, value),
        )
        _take(state, found)
        _bound_length(state)
    if state.meets_bounds():
        state.proven = state.train is not None
    elif state.left > LEAST_FOR_PROOF_S and provable:
        _prove_in_steps(state)
    return state


def _enough(state: _State, value: Value) -> bool:
    score = value[0] >= state.score - 1e-9 or state.aim == "longest"
    return score and value[1] >= state.vehicles and value[2] >= state.length


def _take(state: _State, found: Found | None) -> None:
    if found is None:
        return
    train = as_train(state.task, found.order)
    if broken_heads(state.task, train):
        return
    if better(found.value, state.value, state.aim):
        state.train = train


def _order(state: _State) -> tuple[int, ...]:
    number = {v.name: i for i, v in enumerate(state.task.vehicles)}
    return tuple(number[v.name] for v in state.train or ())


def _hard_heads(state: _State) -> list[int]:
    """Heads that matter: the places hardest for the train known so far."""
    task = state.task
    heads: list[int] = []
    if state.train:
        places = walking.walk(task.profile, task.locomotive, state.train)
        hard = np.argsort(-places.needed_g)
        for k in hard[:: max(1, len(hard) // 200)]:
            head = (int(places.start[k]) + int(places.end[k])) // 2
            if all(abs(head - other) > CLOSE for other in heads):
                heads.append(head)
    return heads


def _bound(state: _State, kept: tuple[Rule, ...]) -> None:
    """Bound the number, and, where the number is reached, the length.

    All rules bind once the score has reached its bound; else only the forbidden ones do.
    """
    full = state.aim == "believable" and state.value[0] >= state.score - 1e-9
    binding = [r for r in kept if full or r.strength == "forbidden"]
    state.bound.add_rows(rows_of(state.task, binding))
    state.bound.add_heads(_hard_heads(state))
    found = state.bound.count(float(len(state.train or ())), min(2.0, state.left / 4))
    state.heads = found.heads
    state.vehicles = min(state.vehicles, int(found.value + 1e-6))
    _bound_length(state)


def _bound_length(state: _State) -> None:
    if state.train is None or len(state.train) < state.vehicles or state.meets_bounds():
        return
    known = state.value[2]
    length = state.bound.length(state.vehicles, float(known), min(1.0, state.left / 4))
    state.length = min(state.length, max(known, _whole(length.value, state.task.step)))


def _whole(length: float, step: int) -> int:
    return int(length * (1 + 1e-9) // step) * step


def _prove(state: _State, places: int, seconds: float) -> bool:
    """Close a small question in one go; tell whether that was done."""
    demand = Demand(state.aim, places, at_least=state.train)
    answer: Answer = prove(state.task, demand, seconds)
    if answer.train is not None:
        state.train = answer.train
    state.proven = answer.closed
    if state.proven and state.train is not None:
        state.score, state.vehicles, state.length = state.value
    return state.proven


def _prove_in_steps(state: _State) -> None:
    """Ask for a better score, then for one vehicle more, then for a longer train.

    Each is asked apart: "is there a train of just so many vehicles" is answered far sooner than
    "what is the best train".
    """
    if state.train is None:
        return
    closed = _no_better_score(state) and _no_more_vehicles(state) and _no_longer(state)
    state.proven = closed


def _met(state: _State) -> int:
    if state.aim == "longest" or state.train is None:
        return 0
    return weight_met(state.task, state.train)


def _ask(state: _State, demand: Demand, left: Collection[int] = ()) -> bool:
    """Ask the exact search, of some vehicles only; take a train it finds. True if none is."""
    task = state.task
    if left:
        task = replace(task, vehicles=tuple(task.vehicles[i] for i in sorted(left)))
    answer = prove(task, demand, state.left)
    if answer.train is not None:
        state.train = answer.train
    return answer.closed and answer.train is None


def _no_better_score(state: _State) -> bool:
    while state.aim == "believable" and state.value[0] < state.score - 1e-9:
        before = state.train
        demand = Demand(
            state.aim,
            state.vehicles,
            met=_met(state) + 1,
            heads=state.heads[:MOST_HEADS],
            any_will_do=True,
        )
        if _ask(state, demand):
            state.score = state.value[0]
            break
        if state.train is before:
            return False
    return True


def _no_more_vehicles(state: _State) -> bool:
    number = state.vehicles
    while number > len(state.train or ()):
        before = state.train
        demand = Demand(
            state.aim,
            number,
            number=number,
            met=_met(state),
            heads=state.heads[:MOST_HEADS],
            any_will_do=True,
        )
        left = state.bound.places_left(number)
        lost = any(i not in left for i in state.judge.fixed)
        if len(left) < number or lost or _ask(state, demand, left):
            number -= 1
            state.vehicles = number
        elif state.train is before:
            return False
    return True


def _no_longer(state: _State) -> bool:
    number = len(state.train or ())
    length = state.value[2]
    if length >= state.length:
        return True
    demand = Demand(
        state.aim,
        number,
        number=number,
        met=_met(state),
        heads=state.heads[:MOST_HEADS],
        longer_than=length,
    )
    answer = prove(state.task, demand, state.left)
    if answer.train is not None:
        state.train = answer.train
    if answer.closed:
        state.length = state.value[2]
    return answer.closed


def _another(state: _State, trains: tuple[Train, ...], seconds: float) -> Train | None:
    """Find the best train that differs enough from those found."""
    apart = [(train, max(1, ceil(DIFFERENT * len(train)))) for train in trains]
    names = [({v.name for v in train}, number) for train, number in apart]

    def differs(order: tuple[int, ...]) -> bool:
        inside = {v.name for v in as_train(state.task, order)}
        return all(len(other & inside) <= len(other) - number for other, number in names)

    small = len(state.task.vehicles) <= SMALL
    found = search(
        state.judge,
        min(seconds, QUICK_S),
        seed=10 + len(trains),
        start=_order(state),
        allowed=differs,
        steps=QUICK_STEPS if small else None,
    )
    other = as_train(state.task, found.order) if found else None
    if small:
        demand = Demand(state.aim, len(state.task.vehicles), at_least=other, differ_from=apart)
        other = prove(state.task, demand, seconds).train or other
    return other
