"""The best trains of a shelf: search, bound and proof together.

The search gives a train at once; the path relaxation bounds every aim from above; where both
meet, the train is proven. Where they do not, the constraint model closes or tells the gap.
"""

import time
from dataclasses import dataclass, field
from math import ceil

from outshop.errors import InputError
from outshop.formation.bound import PathBound
from outshop.formation.exact import Answer, Demand, Train, broken_heads, prove, score_of
from outshop.formation.haul import haul_over
from outshop.formation.search import Found, Judge, Value, as_train, better, greedy, search
from outshop.formation.task import Task, units

AIMS = ("longest", "believable")
SMALL = 12  # vehicles up to which the exact search goes first
DIFFERENT = 0.2  # share of a train that must differ for it to count as another train
QUICK_STEPS = 3000


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
    return Best(tuple(trains), state.proven, most)


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
    start = greedy(judge)
    small = len(task.vehicles) <= SMALL
    _take(
        state,
        search(judge, min(0.7, seconds / 4), start=start, steps=QUICK_STEPS if small else None),
    )
    if small:
        _prove(state, len(task.vehicles))
        return state
    state.bound.add_heads(_grid_heads(state))
    _bound(state)
    for attempt in range(2, 5):
        if state.meets_bounds() or state.left <= 0:
            break
        found = search(
            judge,
            min(1.2, state.left / 3),
            start=_order(state) or start,
            seed=attempt,
            enough=lambda value: _enough(state, value),
        )
        _take(state, found)
    if state.meets_bounds():
        state.proven = state.train is not None
    elif state.left > 0.2:
        _prove(state, max(1, state.vehicles))
    return state


def _enough(state: _State, value: Value) -> bool:
    score = value[0] >= state.score - 1e-9 or state.aim == "longest"
    return score and value[1] >= state.vehicles and value[2] >= state.length


def _take(state: _State, found: Found | None) -> None:
    if found is None:
        return
    train = as_train(state.task, found.order)
    if not broken_heads(state.task, train) and better(found.value, state.value, state.aim):
        state.train = train


def _order(state: _State) -> tuple[int, ...]:
    number = {v.name: i for i, v in enumerate(state.task.vehicles)}
    return tuple(number[v.name] for v in state.train or ())


def _grid_heads(state: _State) -> list[int]:
    """Heads that matter: the worst places of known trains, then a grid over the line."""
    task = state.task
    heads = []
    if state.train:
        haul = haul_over(task.profile, task.locomotive, state.train)
        heads.append(round(haul.head_mm * 2_000_000))
    whole = int(task.profile.borders[-1]) + 2 * task.room_units
    grid = 150
    return heads + [whole * k // grid for k in range(1, grid)]


def _bound(state: _State) -> None:
    """Bound the number, and, where the number is reached, the length."""
    target = float(len(state.train or ()))
    found = state.bound.count(target, min(2.0, state.left / 3))
    state.heads = found.heads
    state.vehicles = min(state.vehicles, int(found.value + 1e-6))
    if state.train is not None and len(state.train) == state.vehicles:
        known = state.value[2]
        if known < state.length:
            length = state.bound.length(state.vehicles, float(known), min(1.5, state.left / 3))
            state.length = min(state.length, max(known, _whole(length.value, state.task.step)))


def _whole(length: float, step: int) -> int:
    return int(length * (1 + 1e-9) // step) * step


def _prove(state: _State, places: int) -> None:
    demand = Demand(state.aim, places, at_least=state.train, heads=state.heads[:12])
    answer: Answer = prove(state.task, demand, state.left)
    if answer.train is not None:
        state.train = answer.train
    state.proven = answer.closed
    if state.proven and state.train is not None:
        state.score, state.vehicles, state.length = state.value


def _another(state: _State, trains: tuple[Train, ...], seconds: float) -> Train | None:
    """Find the best train that differs enough from those found."""
    apart = [(train, max(1, ceil(DIFFERENT * len(train)))) for train in trains]
    names = [({v.name for v in train}, number) for train, number in apart]

    def differs(order: tuple[int, ...]) -> bool:
        inside = {v.name for v in as_train(state.task, order)}
        return all(len(other & inside) <= len(other) - number for other, number in names)

    if len(state.task.vehicles) <= SMALL:
        demand = Demand(state.aim, len(state.task.vehicles), differ_from=apart)
        return prove(state.task, demand, seconds).train
    seed = 10 + len(trains)
    found = search(state.judge, min(seconds, 1.0), seed=seed, start=_order(state), allowed=differs)
    return as_train(state.task, found.order) if found else None
