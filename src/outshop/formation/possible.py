"""Is there any train at all that keeps just some of the demands? Yes, no, or not known in time."""

import time
from dataclasses import dataclass, field, replace

from outshop.formation.bound import PathBound
from outshop.formation.bounding import begin_bounds, bound_all
from outshop.formation.exact import Demand, Train, broken_heads, prove
from outshop.formation.rulerows import least_number
from outshop.formation.rules import rules_of
from outshop.formation.scene import Range, Scene, Vehicle
from outshop.formation.search import Judge, as_train, search
from outshop.formation.state import State
from outshop.formation.task import Task, units

MOST_TRIED = 60  # vehicles looked at when a cause is sought: the lightest of each kind
MORE_PLACES = 4  # than the rules need, where a short train is looked for first
SEARCH_S = 0.4  # of the quick search
SEARCH_STEPS = 4000
LEAST_WORTH_S = 0.02


@dataclass(frozen=True, slots=True)
class Possible:
    """A train that keeps the demands; or none, ``closed`` when that is proven."""

    train: Train | None
    closed: bool


@dataclass(slots=True)
class Asked:
    """Questions about one task, each answered once, within a common time.

    Parameters
    ----------
    task : Task
        The question as asked.
    seconds : float
        For all questions together.
    least : float
        For each question, even when the common time has run out.
    """

    task: Task
    seconds: float
    least: float
    end: float = 0.0
    known: dict[frozenset[str], Possible] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.end = time.monotonic() + self.seconds

    def possible(self, keys: frozenset[str], seconds: float = 0.0) -> Possible:
        """Answer whether some train of one vehicle or more keeps just the demands named."""
        if keys not in self.known:
            self.known[keys] = self._answer(self.task, keys, seconds)
        return self.known[keys]

    def has_train(self, keys: frozenset[str], other: Task | None = None) -> bool:
        """Tell whether a train was found; for another task (more pull, a longer loop) as well."""
        if other is None:
            return self.possible(keys).train is not None
        return self._answer(other, keys, 0.0).train is not None

    def _answer(self, task: Task, keys: frozenset[str], seconds: float) -> Possible:
        left = max(0.0, self.end - time.monotonic())
        return possible(task, keys, max(self.least, min(max(seconds, self.least), left)))


def possible(task: Task, keys: frozenset[str], seconds: float) -> Possible:
    """Tell whether some train keeps just the demands named by their keys.

    Keys are ``force``, ``loop``, ``couplings``, ``platform``, ``fixed:NAME``, ``rule:ID``.
    """
    end = time.monotonic() + seconds
    lifted, whole = lift(task, keys)
    if not lifted.vehicles or lifted.room_units <= 0:
        return Possible(None, closed=True)
    rules = rules_of(task.recipe, task.scene.wish)
    loose = frozenset(r.id for r in rules if f"rule:{r.id}" not in keys)
    judge = Judge(lifted, "longest", loose)
    quick = search(
        judge,
        min(SEARCH_S, seconds / 2),
        enough=lambda _value: True,
        steps=SEARCH_STEPS,
    )
    if quick is not None:
        train = as_train(lifted, quick.order)
        if not broken_heads(lifted, train):
            return Possible(train, closed=True)
    if _excluded(lifted, judge, (end - time.monotonic()) / 2):
        return Possible(None, closed=whole)
    binding = [r for r in rules if r.strength == "forbidden" and r.id not in loose]
    fixed = len(lifted.scene.wish.fixed)
    all_of = len(lifted.vehicles)
    places = min(all_of, least_number(binding) + fixed + MORE_PLACES)
    for most in dict.fromkeys((places, all_of)):
        left = end - time.monotonic()
        demand = Demand("believable", most, loose=loose, any_will_do=True)
        answer = prove(lifted, demand, max(left, LEAST_WORTH_S))
        if answer.train is not None:
            return Possible(answer.train, closed=True)
        if not answer.closed:
            return Possible(None, closed=False)
    return Possible(None, closed=whole)


def _excluded(task: Task, judge: Judge, seconds: float) -> bool:
    """Tell whether the bound alone leaves no train of a single vehicle."""
    state = State(task, "longest", time.monotonic() + seconds, judge, PathBound(task))
    begin_bounds(state)
    bound_all(state)
    return state.vehicles < 1


def lift(task: Task, keys: frozenset[str]) -> tuple[Task, bool]:
    """Give the task without the demands that are not named, and whether the shelf is whole."""
    scene: Scene = task.scene
    engine = scene.locomotive
    fixed = tuple(n for n in scene.wish.fixed if f"fixed:{n}" in keys)
    vehicles = _few(task, fixed)
    whole = len(vehicles) == len(task.vehicles)
    wish = replace(scene.wish, fixed=fixed)
    if "platform" not in keys:
        wish = replace(wish, platform_mm=None)
    if "couplings" not in keys:
        engine = replace(engine, couplings=("any", "any"))
        vehicles = tuple(replace(v, couplings=("any", "any")) for v in vehicles)
    room = task.room_units
    if "loop" not in keys:
        room = sum(units(v.length_mm) for v in vehicles)
    if "force" not in keys:
        engine = replace(engine, pull_g=1e9, low_g=None)
        vehicles = tuple(replace(v, rolling=Range(0.0, 0.0, 0.0)) for v in vehicles)
    lifted = replace(
        task,
        locomotive=engine,
        vehicles=vehicles,
        room_units=room,
        scene=replace(scene, locomotive=engine, wish=wish),
    )
    return lifted, whole


def _few(task: Task, fixed: tuple[str, ...]) -> tuple[Vehicle, ...]:
    """Give the lightest vehicles of each kind, and the fixed ones, in shelf order."""
    if len(task.vehicles) <= MOST_TRIED:
        return task.vehicles
    rank: dict[str, int] = {}
    kinds: dict[str, int] = {}
    for vehicle in sorted(task.vehicles, key=lambda v: (v.mass_g, v.length_mm)):
        rank[vehicle.name] = kinds.get(vehicle.kind, 0)
        kinds[vehicle.kind] = rank[vehicle.name] + 1
    first = sorted(task.vehicles, key=lambda v: (v.name not in fixed, rank[v.name], v.mass_g))
    chosen = {v.name for v in first[: max(MOST_TRIED, len(fixed))]}
    return tuple(v for v in task.vehicles if v.name in chosen)
