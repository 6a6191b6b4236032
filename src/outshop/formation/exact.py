"""Prove the best train: solve the constraint model, walk the answer, demand what it broke.

Lazy demands: a head of the line enters the model only when a proposed train fails there. The
model stays a relaxation, so its bound holds; when its answer hauls everywhere, it is the best.
"""

import time
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from outshop.formation import rulemodel
from outshop.formation import walk as walking
from outshop.formation.haul import TOLERANCE_G
from outshop.formation.rules import WEIGHTS, judge, rules_of, score
from outshop.formation.scene import Vehicle
from outshop.formation.sequence import (
    TrainModel,
    build,
    demand_haul,
    empty_model,
    hint,
    read_train,
)
from outshop.formation.task import Task, units

WORKERS = 2
SLICE_S, SLOWER = 1.0, 1.6  # of a solve that any answer ends; each next one takes longer
Train = tuple[Vehicle, ...]


@dataclass(frozen=True, slots=True)
class Answer:
    """What the exact search can say.

    Parameters
    ----------
    train : tuple of Vehicle or None
        Best train found that keeps every demand.
    closed : bool
        No better one exists (or none at all when ``train`` is None).
    most : tuple of (score, vehicles) or None
        Upper bounds where the search was cut short.
    """

    train: Train | None
    closed: bool
    most: tuple[float, int] | None = None


@dataclass(frozen=True, slots=True)
class Demand:
    """What the exact search is asked.

    Parameters
    ----------
    aim : str
        ``longest`` or ``believable``.
    places : int
        Most vehicles.
    at_least : tuple of Vehicle, optional
        A known train; only a better one is wanted.
    number : int, optional
        Just so many vehicles.
    met : int
        Least weight of rules met.
    longer_than : int, optional
        Length of vehicles (walk units) that the train must exceed.
    any_will_do : bool
        The first train that keeps the demands is enough.
    differ_from : sequence of (names, number)
        Trains from which at least so many vehicles must differ.
    heads : sequence of int
        Heads demanded from the start.
    loose : frozenset of str
        Forbidden rules that may be broken.
    """

    aim: str
    places: int
    at_least: Train | None = None
    number: int | None = None
    met: int = 0
    longer_than: int | None = None
    any_will_do: bool = False
    differ_from: Sequence[tuple[Train, int]] = ()
    heads: Sequence[int] = ()
    loose: frozenset[str] = frozenset()


def prove(task: Task, demand: Demand, seconds: float) -> Answer:
    """Search exactly, for at most ``seconds``."""
    if not task.vehicles or demand.places < 1 or task.room_units <= 0:
        return Answer(None, closed=True)
    empty_model()  # loading the solver, once a process, may take seconds: not of the time given
    end = time.monotonic() + seconds
    names = [v.name for train, _ in demand.differ_from for v in train]
    built = build(task, demand.places, (*names, *task.scene.wish.fixed))
    rules = rules_of(task.recipe, task.scene.wish)
    met = rulemodel.add_rules(built, rules, demand.loose)
    aim, big = _objective(built, demand.aim, met)
    built.model.add(built.used[0] == 1)
    for train, number in demand.differ_from:
        built.model.add(_shared(built, train) <= len(train) - number)
    for head in demand.heads:
        demand_haul(built, head)
    if demand.at_least is not None:
        built.model.add(aim >= _worth(task, demand.at_least, big) + 1)
    if demand.number is not None:
        built.model.add(built.count == demand.number)
    if demand.met:
        built.model.add(met >= demand.met)
    if demand.longer_than is not None:
        built.model.add(built.length >= demand.longer_than // task.step + 1)
    if not demand.any_will_do:
        built.model.maximize(aim)
    return _loop(built, end, SLICE_S if demand.any_will_do else seconds)


def _objective(built: TrainModel, aim: str, met: Any) -> tuple[Any, tuple[int, int]]:
    big = built.task.room_units // built.task.step + 1
    count = built.count * big + built.length
    heavy = big * (built.places + 1)
    if aim == "longest":
        return count, (0, big)
    return met * heavy + count, (heavy, big)


def _worth(task: Task, train: Train, big: tuple[int, int]) -> int:
    worth = len(train) * big[1] + sum(units(v.length_mm) // task.step for v in train)
    return worth + (big[0] * weight_met(task, train) if big[0] else 0)


def weight_met(task: Task, train: Train) -> int:
    """Give the weight of the rules that a train meets."""
    wish = task.scene.wish
    judged = judge(rules_of(task.recipe, wish), train, wish)
    return sum(WEIGHTS[j.rule.strength] for j in judged if j.met)


def _shared(built: TrainModel, train: Train) -> Any:
    names = {v.name for v in train}
    return sum(x for (g, _, _), x in built.at.items() if built.groups[g][0].name in names)


def _loop(built: TrainModel, end: float, most: float) -> Answer:
    """Solve, walk, demand; a solve that lasts longer than ``most`` begins anew on another way.

    How long "there is none" takes varies a hundredfold from one seed to the next, mostly short.
    """
    task, seed = built.task, 1
    while (left := end - time.monotonic()) > 0.01:
        from ortools.sat.python import cp_model  # more than a second to load

        solver = cp_model.CpSolver()
        solver.parameters.num_workers = WORKERS
        solver.parameters.random_seed = seed
        solver.parameters.max_time_in_seconds = min(left, most)
        status = solver.solve(built.model)
        if status == cp_model.INFEASIBLE:
            return Answer(None, closed=True)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            seed, most = seed + 1, most * SLOWER
            continue
        train = read_train(built, solver)
        broken = broken_heads(task, train)
        if not broken:
            return Answer(train, closed=status == cp_model.OPTIMAL)
        before = len(built.demanded)
        for head in broken:
            demand_haul(built, head)
        if len(built.demanded) == before:
            # the model's rounding let it through: forbid this very train
            forbid(built, solver)
        hint(built, train)
    return Answer(None, closed=False)


def broken_heads(task: Task, train: Train) -> list[int]:
    """Give heads at which a train needs more than the pull: the worst of each broken stretch."""
    places = walking.walk(task.profile, task.locomotive, train)
    needed = places.needed_g
    over = needed > task.locomotive.available_g + TOLERANCE_G
    heads, k = [], 0
    while k < len(over):
        if not over[k]:
            k += 1
            continue
        run = k
        while run < len(over) and over[run]:
            run += 1
        worst = k + int(needed[k:run].argmax())
        heads.append((int(places.start[worst]) + int(places.end[worst])) // 2)
        k = run
    return heads


def forbid(built: TrainModel, solver: Any) -> None:
    """Forbid the very train that the solver found."""
    standing = [x for x in built.at.values() if solver.boolean_value(x)]
    built.model.add_bool_or([x.negated() for x in standing])


def score_of(task: Task, train: Train) -> float:
    """Give a train's score under the task's rules."""
    wish = task.scene.wish
    return score(judge(rules_of(task.recipe, wish), train, wish))
