"""The best trains of a shelf: search, bound and proof together.

The search gives a train at once; the path relaxation bounds every aim from above; then a train
is sought that reaches just these bounds. Where both meet, the train is proven. Where they do
not, the constraint model closes or tells the gap.
"""

import time
from dataclasses import dataclass, field, replace
from math import ceil

from outshop.errors import InputError
from outshop.formation.bound import PathBound
from outshop.formation.bounding import begin_bounds, bound_all
from outshop.formation.climb import Climber
from outshop.formation.closing import close_at_once, close_in_steps
from outshop.formation.counted import counted_clash
from outshop.formation.exact import Demand, Train, prove
from outshop.formation.proof import AIMED, Proof
from outshop.formation.search import Judge, Value, as_train, greedy, search
from outshop.formation.state import State, order_of, value_of
from outshop.formation.task import Task, units
from outshop.formation.walk import UNITS

__all__ = ["Best", "solve", "value_of"]

SMALL = 10  # vehicles up to which the exact search goes first
DIFFERENT = 0.2  # share of a train that must differ for it to count as another train
ANOTHER_S = 1.2  # to better each further train
QUICK_STEPS = 3000
QUICK_S = 0.8  # of the first search
LEAST_FOR_PROOF_S = 0.3
LARGEST_PROVEN = 150  # vehicles; more would only build models and never close them
SHARES = (0.3, 0.4, 0.6)  # of the time left that a round of bound and climb may take
SHORT = 14  # vehicles up to which the constraint model often closes: it gets the time then
SHORT_SHARE, SHORT_BOUND_SHARE = 0.15, 0.1  # of the time left, for its climb and for one bound
NONE_SHARE = 0.4  # of the time left, as long as no train is known


@dataclass(frozen=True, slots=True)
class Best:
    """The trains found, best first.

    Parameters
    ----------
    trains : tuple of trains
        Each a tuple of vehicles from the engine backwards.
    none_proven : bool
        It is proven that there is no train at all.
    most : dict
        Upper bounds: ``score``, ``vehicles``, ``length_mm`` (engine included).
    proof : Proof or None
        The first train against these bounds; None without a train.
    first_after_s : float
        Time until the first train.
    """

    trains: tuple[Train, ...]
    none_proven: bool = False
    most: dict[str, float] = field(default_factory=dict)
    proof: Proof | None = None
    first_after_s: float = 0.0

    @property
    def proven(self) -> bool:
        """Tell whether no train reaches more of the aim than the first; or that there is none."""
        return self.none_proven if self.proof is None else self.proof.best

    @property
    def best_of_equals(self) -> bool:
        """Tell whether the ties among trains as good are settled too."""
        return self.none_proven if self.proof is None else self.proof.best_of_equals


def solve(
    task: Task,
    aim: str = "longest",
    count: int = 1,
    seconds: float = 8.0,
    *,
    start: Train = (),
) -> Best:
    """Find the best train, and ``count`` - 1 others that differ from it and from each other.

    Parameters
    ----------
    task : Task
        The question.
    aim : str
        ``longest``: most vehicles, then the longest train. ``believable``: the best score; among
        equals, most vehicles, then the longest.
    count : int
        Number of trains wanted.
    seconds : float
        Time for the first train and its proof; each further train takes at most a quarter.
    start : tuple of Vehicle
        A train to begin the search with; it need not keep any demand.

    Raises
    ------
    InputError
        The aim is unknown, or the count is below 1.
    """
    if aim not in AIMED:
        message = f"the aim {aim!r} is unknown; it is {' or '.join(AIMED)}"
        raise InputError(message)
    if count < 1:
        message = f"at least one train must be wanted; got {count}"
        raise InputError(message)
    if not can_run(task):
        return Best((), none_proven=True)
    state = _first(task, aim, seconds, start)
    most = _figures(task, (state.score, state.vehicles, state.length))
    if state.train is None:
        return Best((), state.proven, most)
    proof = Proof(aim, _figures(task, state.value), most)
    trains = [state.train]
    while len(trains) < count:
        other = _another(state, tuple(trains), seconds / 4)
        if other is None:
            break
        trains.append(other)
    return Best(tuple(trains), False, most, proof, state.first_after_s)


def _figures(task: Task, value: Value) -> dict[str, float]:
    score, vehicles, length = value
    whole = (length + units(task.locomotive.length_mm)) / UNITS
    return {"score": score, "vehicles": float(vehicles), "length_mm": whole}


def can_run(task: Task) -> bool:
    """Tell whether the locomotive itself fits the line and some vehicle may run at all."""
    tightest = min((s.radius_mm for s in task.scene.line if s.radius_mm), default=0.0)
    if tightest and task.locomotive.min_radius_mm > tightest:
        return False
    couplers = task.scene.wish.couplers
    if couplers and task.locomotive.couplings[1] not in couplers:
        return False
    if counted_clash(task) is not None:
        return False
    fixed = set(task.scene.wish.fixed) - {v.name for v in task.vehicles}
    return bool(task.vehicles) and task.room_units > 0 and not fixed


def _first(task: Task, aim: str, seconds: float, start: Train) -> State:
    begin = time.monotonic()
    judge = Judge(task, aim)
    state = State(task, aim, begin + seconds, judge, PathBound(task))
    state.vehicles, state.length = len(task.vehicles), task.room_units
    begin_bounds(state)
    small = len(task.vehicles) <= SMALL
    steps = QUICK_STEPS if small else None
    begun = order_of(task, start) or greedy(judge)
    quick = search(judge, min(QUICK_S, seconds / 4), start=begun, steps=steps)
    late = time.monotonic() - begin - (quick.spent_s - quick.first_after_s if quick else 0.0)
    state.first_after_s = late if state.take(quick.order if quick else None) else 0.0
    if small and close_at_once(state, seconds / 3):
        return state
    climber = Climber(state)
    if 0 < state.number <= SHORT:
        state.share = SHORT_BOUND_SHARE
    climber.climb_score(state.share * state.left)
    for share in SHARES:
        bound_all(state)
        if state.vehicles < 1:
            state.proven = True
            return state
        if state.meets_bounds() or state.left < LEAST_FOR_PROOF_S:
            break
        if state.train is None:
            climber.climb(NONE_SHARE * state.left)
            continue
        short = state.vehicles <= SHORT
        climber.climb((SHORT_SHARE if short else share) * state.left)
        if short:
            break
    _finish(state)
    return state


def _finish(state: State) -> None:
    """Prove what is known, or ask the constraint model for the rest."""
    provable = len(state.task.vehicles) <= LARGEST_PROVEN
    if state.train is not None and state.meets_bounds():
        return
    if provable and state.train is None:
        close_at_once(state, state.left)
    elif provable and state.left > LEAST_FOR_PROOF_S:
        close_in_steps(state)


def _another(state: State, trains: tuple[Train, ...], seconds: float) -> Train | None:
    """Find the best train that differs enough from those found."""
    apart = [(train, max(1, ceil(DIFFERENT * len(train)))) for train in trains]
    names = [({v.name for v in train}, number) for train, number in apart]

    def differs(order: tuple[int, ...]) -> bool:
        inside = {v.name for v in as_train(state.task, order)}
        return all(len(other & inside) <= len(other) - number for other, number in names)

    small = len(state.task.vehicles) <= SMALL
    found = search(
        state.judge,
        min(seconds, QUICK_S) / 2,
        seed=10 + len(trains),
        start=state.order,
        allowed=differs,
        steps=QUICK_STEPS if small else None,
    )
    other = as_train(state.task, found.order) if found else None
    if small:
        demand = Demand(state.aim, len(state.task.vehicles), at_least=other, differ_from=apart)
        return prove(state.task, demand, seconds).train or other
    # what bounds the best train bounds the others too
    fresh = replace(state, train=other, end=time.monotonic() + min(seconds, ANOTHER_S))
    Climber(fresh, allowed=differs, seed=1000 * len(trains)).climb(fresh.left)
    return fresh.train
