"""Prove the best sharing of a small shelf among several trains: one constraint model of all.

Each train is the model of :mod:`outshop.formation.sequence`, and each vehicle stands in one of
them at most. Hauling is demanded where a proposed train breaks it, as for one train alone.
"""

import time
from collections.abc import Sequence
from dataclasses import dataclass
from math import lcm
from typing import Any

from outshop.formation import rulemodel
from outshop.formation.exact import WORKERS, Train, broken_heads, forbid, weight_met
from outshop.formation.rules import WEIGHTS, rules_of
from outshop.formation.sequence import TrainModel, build, demand_haul, empty_model, read_train
from outshop.formation.task import Task

LARGEST = 40  # vehicles that may run, counted once for each train: more is not closed in seconds
LEAST_S = 0.05  # left for a round of the solver
SCORE_STEPS = 10**9  # most steps of a score: shares of all trains as whole numbers


@dataclass(frozen=True, slots=True)
class Shared:
    """What the joint model can say.

    Parameters
    ----------
    trains : tuple of (tuple of Vehicle or None), or None
        A sharing worth more than the one known; None where none was found.
    closed : bool
        Nothing is worth more than these trains (or than those known).
    """

    trains: tuple[Train | None, ...] | None
    closed: bool


def is_small(tasks: Sequence[Task]) -> bool:
    """Tell whether the joint model is worth its time."""
    return 0 < sum(len(t.vehicles) for t in tasks) <= LARGEST


def share(tasks: Sequence[Task], aim: str, known: Sequence[Train | None], seconds: float) -> Shared:
    """Look for a sharing worth more than the one known, or prove that there is none.

    Worth counts trains filled, then the sum of scores (``believable`` only), then vehicles.

    Parameters
    ----------
    tasks : sequence of Task
        The questions; all of one shelf.
    aim : str
        ``longest`` or ``believable``.
    known : sequence of trains or None
        The sharing to better.
    seconds : float
        Most time.
    """
    model = empty_model()  # loading the solver may take seconds: not of the time given
    end = time.monotonic() + seconds
    parts = [_part(task, model) for task in tasks]
    _once(model, parts)
    steps = _steps(tasks, aim)
    if sum(steps) * max(1, *(sum(_weights(t)) for t in tasks)) > SCORE_STEPS:
        return Shared(None, closed=False)
    vehicles = sum(built.count for built, _ in parts)
    most = sum(len(t.vehicles) for t in tasks) + 1
    score = sum(step * met for step, (_, met) in zip(steps, parts, strict=True))
    full = most * (sum(s * sum(_weights(t)) for s, t in zip(steps, tasks, strict=True)) + 1)
    filled = sum(built.filled for built, _ in parts)
    model.add(filled * full + score * most + vehicles >= 1 + sum(
        full + s * weight_met(t, train) * most + len(train)
        for s, t, train in zip(steps, tasks, known, strict=True) if train
    ))  # fmt: skip
    model.maximize(filled * full + score * most + vehicles)
    return _loop(model, [built for built, _ in parts], end)


def _part(task: Task, model: Any) -> tuple[TrainModel, Any]:
    """Give one train's model and the weight of the rules it meets; both 0 when it is not filled."""
    built = build(task, len(task.vehicles), [v.name for v in task.vehicles], model=model)
    return built, rulemodel.add_rules(built, rules_of(task.recipe, task.scene.wish))


def _once(model: Any, parts: Sequence[tuple[TrainModel, Any]]) -> None:
    """Let each vehicle stand in one train at most."""
    uses: dict[str, list[Any]] = {}
    for built, _ in parts:
        for (group, _, _), x in built.at.items():
            uses.setdefault(built.groups[group][0].name, []).append(x)
    for variables in uses.values():
        model.add_at_most_one(variables)


def _weights(task: Task) -> list[int]:
    return [WEIGHTS[r.strength] for r in rules_of(task.recipe, task.scene.wish)]


def _steps(tasks: Sequence[Task], aim: str) -> list[int]:
    """Give what one unit of rule weight is worth in each train, in whole common steps."""
    totals = [sum(_weights(t)) or 1 for t in tasks]
    whole = lcm(*totals)
    return [whole // total if aim == "believable" else 0 for total in totals]


def _loop(model: Any, parts: Sequence[TrainModel], end: float) -> Shared:
    from ortools.sat.python import cp_model  # more than a second to load

    while (left := end - time.monotonic()) > LEAST_S:
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = WORKERS
        solver.parameters.random_seed = 1
        solver.parameters.max_time_in_seconds = left
        status = solver.solve(model)
        if status == cp_model.INFEASIBLE:
            return Shared(None, closed=True)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            break
        trains = [read_train(built, solver) for built in parts]
        if not _demanded(parts, trains, solver):
            found = tuple(train or None for train in trains)
            return Shared(found, closed=status == cp_model.OPTIMAL)
    return Shared(None, closed=False)


def _demanded(parts: Sequence[TrainModel], trains: Sequence[Train], solver: Any) -> bool:
    """Demand hauling where a train breaks it; tell whether any did."""
    any_broken = False
    for built, train in zip(parts, trains, strict=True):
        broken = broken_heads(built.task, train)
        before = len(built.demanded)
        for head in broken:
            demand_haul(built, head)
        if broken and len(built.demanded) == before:
            forbid(built, solver)  # the model's rounding let it through
        any_broken = any_broken or bool(broken)
    return any_broken
