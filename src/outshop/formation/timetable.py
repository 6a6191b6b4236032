"""Several trains at once from one shelf, none sharing a vehicle: the evening's timetable."""

import time
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import permutations
from typing import Any

from outshop.formation.compose import MadeUp, made_up
from outshop.formation.recipes import Recipe, find_recipe
from outshop.formation.scene import Scene
from outshop.formation.sharing import is_small, share
from outshop.formation.solve import can_run, solve
from outshop.formation.task import Task, prepare_task

MOST_TRIED = 6  # orders in which the trains may draw from the shelf
SHARES = (1.0, 0.75, 0.5, 0.3)  # of the loop, tried until enough is left for the others
QUICK_S = 0.3  # to see whether something is left for another train
DRAW_SHARE, BOUND_SHARE = 0.4, 0.3  # of the time: for the first draws, for the bounds
LEAST_S = 0.3  # of one question, so that a short time still has an answer

Trains = list[MadeUp | None]


@dataclass(frozen=True, slots=True)
class Sum:
    """What a timetable is worth, or could be worth at most: the first counts before the next."""

    trains: int
    score: float
    vehicles: int

    def as_json(self) -> dict[str, float]:
        """Give a plain mapping."""
        return {"trains": self.trains, "score": self.score, "vehicles": self.vehicles}


@dataclass(frozen=True, slots=True)
class Timetable:
    """One train (or None) for each question, in the order asked.

    Parameters
    ----------
    trains : tuple of MadeUp or None
        The trains.
    proven : bool
        No other sharing of the shelf is worth more.
    worth, at_most : Sum
        Trains filled, sum of their scores (0 for ``longest``), vehicles; and a bound: no sharing is
        worth more.
    """

    trains: tuple[MadeUp | None, ...]
    proven: bool
    worth: Sum
    at_most: Sum

    def as_json(self) -> dict[str, Any]:
        """Give a plain mapping; ``gap`` is what the proof leaves open."""
        gap = Sum(
            self.at_most.trains - self.worth.trains,
            self.at_most.score - self.worth.score,
            max(0, self.at_most.vehicles - self.worth.vehicles),
        )
        return {
            "timetable": [t.as_json() if t else None for t in self.trains],
            "proven_best": self.proven,
            "worth": self.worth.as_json(),
            "at_most": self.at_most.as_json(),
            "gap": Sum(0, 0.0, 0).as_json() if self.proven else gap.as_json(),
        }


def fill_timetable(
    scenes: Sequence[Scene],
    aim: str = "believable",
    *,
    recipes: Mapping[str, Recipe] | None = None,
    seconds: float = 8.0,
) -> Timetable:
    """Make up one train for each question from one shelf.

    Trains draw from the shelf one after the other, in several orders; one that would leave
    nothing for another draws again on a shorter loop. The order that fills most trains, then has
    the best sum of scores, then the most vehicles, is kept; then each train in turn draws again
    from what the others leave. Vehicles fixed for one train are kept from the others. What each
    train alone could reach with the whole shelf bounds the whole from above; where that leaves
    something open, a small shelf is closed by one model of all trains.

    Parameters
    ----------
    scenes : sequence of Scene
        The questions; all name the same shelf.
    aim : str
        ``longest`` or ``believable``.
    recipes : mapping, optional
        A person's own recipes.
    seconds : float
        For the whole timetable.
    """
    begin = time.monotonic()
    orders = list(permutations(range(len(scenes))))[:MOST_TRIED]
    each = DRAW_SHARE * seconds / max(1, len(scenes) * len(orders))
    trains: Trains = [None] * len(scenes)
    for order in orders:
        drawn = _draw(scenes, order, aim, recipes, each)
        trains = max(trains, drawn, key=lambda some: _value(some, aim))
    alone = max(LEAST_S, BOUND_SHARE * seconds / max(1, len(scenes)))
    most = _at_most(scenes, aim, recipes, alone)
    value, closed = _value(trains, aim), False
    if value < _key(most):
        left = max(LEAST_S, seconds - (time.monotonic() - begin))
        trains, closed = _shared(scenes, trains, aim, recipes, left)
        value = _value(trains, aim)
    while not closed and value < _key(most) and time.monotonic() - begin < seconds:
        _draw_again(scenes, trains, aim, recipes, max(LEAST_S, each))
        if _value(trains, aim) <= value:
            break
        value = _value(trains, aim)
    worth = _sum(trains, aim)
    if closed or value >= _key(most):
        return Timetable(tuple(trains), True, worth, worth)
    return Timetable(tuple(trains), False, worth, most)


def _shared(
    scenes: Sequence[Scene],
    trains: Trains,
    aim: str,
    recipes: Mapping[str, Recipe] | None,
    seconds: float,
) -> tuple[Trains, bool]:
    """Better the sharing of a small shelf by one model of all trains; tell whether it closed."""
    asked: dict[int, Task] = {}
    for number, scene in enumerate(scenes):
        task = _task(scene, _kept(scenes, number), recipes)
        if can_run(task):
            asked[number] = task
    tasks = list(asked.values())
    if not is_small(tasks):
        return trains, False
    known = [t.vehicles if (t := trains[k]) else None for k in asked]
    found = share(tasks, aim, known, seconds)
    if found.trains is None:
        return trains, found.closed
    better: Trains = [None] * len(scenes)
    for (number, task), train in zip(asked.items(), found.trains, strict=True):
        better[number] = made_up(task, train) if train else None
    return better, found.closed


def _kept(scenes: Sequence[Scene], number: int) -> set[str]:
    """Give the vehicles that are fixed for other trains, and not for this one."""
    others = {n for k, s in enumerate(scenes) if k != number for n in s.wish.fixed}
    return others - set(scenes[number].wish.fixed)


def _task(scene: Scene, gone: Collection[str], recipes: Mapping[str, Recipe] | None) -> Task:
    """Make one question ready, without the vehicles that are gone."""
    free = tuple(v for v in scene.vehicles if v.name not in gone)
    wish = replace(scene.wish, forbidden=tuple(n for n in scene.wish.forbidden if n not in gone))
    recipe = find_recipe(wish.recipe, recipes) if wish.recipe else None
    return prepare_task(replace(scene, vehicles=free, wish=wish), recipe)


def _sum(trains: Trains, aim: str) -> Sum:
    made = [t for t in trains if t is not None]
    score = sum(t.score for t in made) if aim == "believable" else 0.0
    return Sum(len(made), score, sum(len(t.vehicles) for t in made))


def _key(worth: Sum) -> tuple[int, float, int]:
    return (worth.trains, round(worth.score, 6), worth.vehicles)


def _value(trains: Trains, aim: str) -> tuple[int, float, int]:
    return _key(_sum(trains, aim))


def _draw_again(
    scenes: Sequence[Scene],
    trains: Trains,
    aim: str,
    recipes: Mapping[str, Recipe] | None,
    seconds: float,
) -> None:
    """Let each train draw again from what the others leave; keep what is worth more."""
    for number, scene in enumerate(scenes):
        others = {v.name for k, t in enumerate(trains) if t and k != number for v in t.vehicles}
        tried = list(trains)
        tried[number] = _alone(scene, others | _kept(scenes, number), aim, recipes, seconds, 1.0)
        if _value(tried, aim) > _value(trains, aim):
            trains[number] = tried[number]


def _draw(
    scenes: Sequence[Scene],
    order: Sequence[int],
    aim: str,
    recipes: Mapping[str, Recipe] | None,
    seconds: float,
) -> Trains:
    trains: Trains = [None] * len(scenes)
    gone: set[str] = set()
    for place, number in enumerate(order):
        rest = [scenes[k] for k in order[place + 1 :]]
        kept = {n for s in rest for n in s.wish.fixed} - set(scenes[number].wish.fixed)
        train: MadeUp | None = None
        for part in SHARES:
            tried = _alone(scenes[number], gone | kept, aim, recipes, seconds, part)
            if tried is None:
                break
            train = tried if train is None else train
            taken = gone | {v.name for v in tried.vehicles}
            if all(_alone(s, taken, aim, recipes, QUICK_S, 1.0) for s in rest):
                train = tried
                break
        if train is not None:
            trains[number] = train
            gone |= {v.name for v in train.vehicles}
    return trains


def _alone(
    scene: Scene,
    gone: Collection[str],
    aim: str,
    recipes: Mapping[str, Recipe] | None,
    seconds: float,
    part: float,
) -> MadeUp | None:
    """Make up one train from what is left, on a part of the loop."""
    if set(scene.wish.fixed) & set(gone):
        return None  # a fixed vehicle is in another train
    task = _task(scene, gone, recipes)
    found = solve(replace(task, room_units=int(task.room_units * part)), aim, 1, seconds)
    return made_up(task, found.trains[0]) if found.trains else None


def _at_most(
    scenes: Sequence[Scene], aim: str, recipes: Mapping[str, Recipe] | None, seconds: float
) -> Sum:
    """Bound the whole by what each train could reach with the whole shelf.

    The vehicles are no more than all that may run in one train or another.
    """
    trains, score, vehicles, usable = 0, 0.0, 0, set()
    for scene in scenes:
        task = _task(scene, (), recipes)
        alone = solve(task, aim, 1, seconds)
        if alone.none_proven:
            continue
        trains += 1
        usable |= {v.name for v in task.vehicles}
        score += alone.most.get("score", 100.0) if aim == "believable" else 0.0
        vehicles += int(alone.most.get("vehicles", len(task.vehicles)))
    return Sum(trains, score, min(vehicles, len(usable)))
