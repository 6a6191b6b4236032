"""Is there any train at all that keeps just some of the demands? Yes, no, or not known in time."""

import time
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from outshop.formation.bound import PathBound
from outshop.formation.bounding import EDGE, FEW
from outshop.formation.exact import Demand, Train, broken_heads, prove
from outshop.formation.haul import TOLERANCE_G
from outshop.formation.recipes import Rule
from outshop.formation.rulerows import chosen, least_number, rows_of
from outshop.formation.rules import rules_of
from outshop.formation.scene import Range, Scene, Vehicle
from outshop.formation.search import Judge, Order, as_train, search
from outshop.formation.shape import shape_of
from outshop.formation.state import hard_heads
from outshop.formation.task import Task, units

SMALL_SHELF = 10  # vehicles up to which every question is closed in a moment
MOST_TRIED = 60  # vehicles looked at when a cause is sought: the lightest of each kind
MORE_PLACES = 4  # than the rules need, where a short train is looked for first
SEARCH_S = 0.4  # of the quick search
SEARCH_STEPS = 4000
LEAST_WORTH_S = 0.02
EACH_SHARE = 0.25  # of the time left, for one question


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
        return possible(task, keys, max(self.least, min(max(seconds, EACH_SHARE * left), left)))


def possible(task: Task, keys: frozenset[str], seconds: float) -> Possible:
    """Tell whether some train keeps just the demands named by their keys.

    Keys are ``force``, ``loop``, ``couplings``, ``platform``, ``fixed:NAME``, ``rule:ID``.
    """
    end = time.monotonic() + seconds
    lifted = lift(task, keys, few=True)
    whole = len(lifted.vehicles) == len(task.vehicles)
    if not lifted.vehicles or lifted.room_units <= 0:
        return Possible(None, closed=True)
    rules = rules_of(task.recipe, task.scene.wish)
    loose = frozenset(r.id for r in rules if f"rule:{r.id}" not in keys)
    judge = Judge(lifted, "longest", loose)
    binding = [r for r in rules if r.strength == "forbidden" and r.id not in loose]
    quick = search(
        judge,
        min(SEARCH_S, seconds / 2),
        start=_counted_in(judge, binding),
        enough=lambda _value: True,
        steps=SEARCH_STEPS,
    )
    if quick is not None:
        train = as_train(lifted, quick.order)
        if not broken_heads(lifted, train):
            return Possible(train, closed=True)
    small = len(task.vehicles) <= SMALL_SHELF  # the model closes it sooner
    if not small and _excluded(lift(task, keys), binding, (end - time.monotonic()) / 2):
        return Possible(None, closed=True)
    fixed = len(lifted.scene.wish.fixed)
    all_of = len(lifted.vehicles)
    places = min(all_of, least_number(lifted, binding) + fixed + MORE_PLACES)
    for most in dict.fromkeys((places, all_of)):
        left = end - time.monotonic()
        demand = Demand("believable", most, loose=loose, any_will_do=True)
        answer = prove(lifted, demand, max(left, LEAST_WORTH_S))
        if answer.train is not None:
            return Possible(answer.train, closed=True)
        if not answer.closed:
            return Possible(None, closed=False)
    return Possible(None, closed=whole)


def _counted_in(judge: Judge, rules: Sequence[Rule]) -> Order:
    """Give the fixed vehicles and the lightest of what rules count: a train to begin with."""
    task = judge.task
    order = sorted(judge.fixed)
    for rule in rules:
        if rule.test == "count":
            found = chosen(task, rule.args["select"])
            have = sum(found[i] for i in order)
            more = [i for i in judge.light.tolist() if found[i] and i not in order]
            order += more[: max(0, int(rule.args.get("min", 0) - have))]
    return tuple(order)


def _excluded(task: Task, rules: Sequence[Rule], seconds: float) -> bool:
    """Tell whether the bound alone leaves no train of a single vehicle; of the whole shelf."""
    # on the level ends of the line all roll together, so their rolling alone limits the number
    rolling = np.cumsum(sorted(v.mass_g * v.rolling_permille / 1000 for v in task.vehicles))
    most = int((rolling <= task.locomotive.available_g + TOLERANCE_G).sum())
    shape = shape_of(task, rules)
    if most == 0 or shape.is_empty:
        return True
    longest = max(units(v.length_mm) for v in task.vehicles)
    bound = PathBound(replace(task, room_units=min(task.room_units, most * longest)))
    bound.set_shape(shape)
    bound.set_rows(rows_of(task, rules))
    light = sorted(task.vehicles, key=lambda v: v.mass_g)[:FEW]
    fixed = [v for v in task.vehicles if v.name in task.scene.wish.fixed]
    bound.add_heads(hard_heads(task, tuple(dict.fromkeys((*fixed, *light)))))
    return bound.count(0.0, seconds).value < 1 - EDGE


def lift(task: Task, keys: frozenset[str], *, few: bool = False) -> Task:
    """Give the task without the demands that are not named; of ``few`` vehicles if so wished."""
    scene: Scene = task.scene
    engine = scene.locomotive
    fixed = tuple(n for n in scene.wish.fixed if f"fixed:{n}" in keys)
    vehicles = _few(task, fixed) if few else task.vehicles
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
    return replace(
        task,
        locomotive=engine,
        vehicles=vehicles,
        room_units=room,
        scene=replace(scene, locomotive=engine, wish=wish),
    )


def _few(task: Task, fixed: tuple[str, ...]) -> tuple[Vehicle, ...]:
    """Give the lightest vehicles of each kind, what rules count, and the fixed ones."""
    if len(task.vehicles) <= MOST_TRIED:
        return task.vehicles
    light = sorted(range(len(task.vehicles)), key=lambda i: _lightness(task.vehicles[i]))
    stay = {i for i in light if task.vehicles[i].name in fixed}
    for rule in rules_of(task.recipe, task.scene.wish):
        if rule.test == "count" and rule.strength == "forbidden":
            named = chosen(task, rule.args["select"])
            stay |= set([i for i in light if named[i]][: int(rule.args.get("min", 0))])
    kinds: dict[str, int] = {}
    ranks = []
    for i in light:
        kind = task.vehicles[i].kind
        kinds[kind] = kinds.get(kind, 0) + 1
        ranks.append((kinds[kind], i))
    for _, i in sorted(ranks, key=lambda row: row[0]):
        if len(stay) >= MOST_TRIED:
            break
        stay.add(i)
    return tuple(task.vehicles[i] for i in sorted(stay))


def _lightness(vehicle: Vehicle) -> tuple[float, float]:
    return vehicle.mass_g, vehicle.length_mm
