"""Several trains at once from one shelf, none sharing a vehicle: the evening's timetable."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import permutations

from outshop.formation.compose import MadeUp, made_up
from outshop.formation.recipes import Recipe, find_recipe
from outshop.formation.scene import Scene
from outshop.formation.solve import solve, value_of
from outshop.formation.task import prepare_task

MOST_TRIED = 6  # orders in which the trains may draw from the shelf
SHARES = (1.0, 0.75, 0.5, 0.3)  # of the loop, tried until enough is left for the others
QUICK_S = 0.3  # to see whether something is left for another train


@dataclass(frozen=True, slots=True)
class Timetable:
    """One train (or None) for each question, in the order asked."""

    trains: tuple[MadeUp | None, ...]
    proven: bool


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
    the best sum of scores, then the most vehicles, is kept. Vehicles fixed for one train are kept
    from the others. The result is proven only when every train alone, with the whole shelf, could
    be no better.

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
    orders = list(permutations(range(len(scenes))))[:MOST_TRIED]
    each = seconds / max(1, len(scenes) * len(orders))
    best: tuple[tuple[float, float, int], list[MadeUp | None]] | None = None
    for order in orders:
        trains = _draw(scenes, order, aim, recipes, each)
        made = [t for t in trains if t is not None]
        worth = (
            float(len(made)),
            sum(t.score for t in made) if aim == "believable" else 0.0,
            sum(len(t.vehicles) for t in made),
        )
        if best is None or worth > best[0]:
            best = (worth, trains)
    trains = best[1] if best else []
    return Timetable(tuple(trains), _cannot_be_better(scenes, trains, aim, recipes, each))


def _draw(
    scenes: Sequence[Scene],
    order: Sequence[int],
    aim: str,
    recipes: Mapping[str, Recipe] | None,
    seconds: float,
) -> list[MadeUp | None]:
    trains: list[MadeUp | None] = [None] * len(scenes)
    gone: set[str] = set()
    for place, number in enumerate(order):
        rest = [scenes[k] for k in order[place + 1 :]]
        kept = {n for s in rest for n in s.wish.fixed} - set(scenes[number].wish.fixed)
        train: MadeUp | None = None
        for share in SHARES:
            tried = _alone(scenes[number], gone | kept, aim, recipes, seconds, share)
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
    share: float,
) -> MadeUp | None:
    """Make up one train from what is left, on a share of the loop."""
    free = tuple(v for v in scene.vehicles if v.name not in gone or v.name in scene.wish.fixed)
    if {v.name for v in free} & set(gone):
        return None  # a fixed vehicle is in another train
    wish = replace(scene.wish, forbidden=tuple(n for n in scene.wish.forbidden if n not in gone))
    recipe = find_recipe(wish.recipe, recipes) if wish.recipe else None
    task = prepare_task(replace(scene, vehicles=free, wish=wish), recipe)
    found = solve(replace(task, room_units=int(task.room_units * share)), aim, 1, seconds)
    return made_up(task, found.trains[0]) if found.trains else None


def _cannot_be_better(
    scenes: Sequence[Scene],
    trains: Sequence[MadeUp | None],
    aim: str,
    recipes: Mapping[str, Recipe] | None,
    seconds: float,
) -> bool:
    for scene, train in zip(scenes, trains, strict=True):
        recipe = find_recipe(scene.wish.recipe, recipes) if scene.wish.recipe else None
        task = prepare_task(scene, recipe)
        alone = solve(task, aim, 1, seconds)
        if not alone.proven:
            return False
        if alone.trains and (
            train is None or value_of(task, train.vehicles) < value_of(task, alone.trains[0])
        ):
            return False
    return True
