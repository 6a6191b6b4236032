"""A question in, made-up trains with their reasons out: the contract's ``formation``."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from outshop.formation.exact import Train
from outshop.formation.haul import Haul, haul_over
from outshop.formation.joints import turning
from outshop.formation.proof import Proof
from outshop.formation.recipes import Recipe, find_recipe
from outshop.formation.rules import Judged, judge, rules_of, score
from outshop.formation.scene import Scene
from outshop.formation.solve import solve
from outshop.formation.task import Task, in_years, prepare_task
from outshop.formation.why import Why, explain


@dataclass(frozen=True, slots=True)
class MadeUp:
    """One train with its haul, its rules and its score.

    Parameters
    ----------
    vehicles : tuple of Vehicle
        From the engine backwards.
    turned : tuple of bool
        Which stand the other way round.
    haul : Haul
        Worst place and margin.
    judged : tuple of Judged
        Rules, met or not.
    score : float
        0 to 100.
    """

    vehicles: Train
    turned: tuple[bool, ...]
    haul: Haul
    judged: tuple[Judged, ...]
    score: float

    def as_json(self) -> dict[str, Any]:
        """Give the contract's JSON shape."""
        return {
            "vehicles": [v.name for v in self.vehicles],
            "turned": list(self.turned),
            "length_mm": self.haul.length_mm,
            "needed_g": self.haul.needed_g,
            "available_g": self.haul.available_g,
            "margin_percent": self.haul.margin_percent,
            "worst": {"head_mm": self.haul.head_mm, "section": self.haul.section},
            "verdict": self.haul.verdict,
            "believable": [j.as_json() for j in self.judged],
            "score": self.score,
        }


@dataclass(frozen=True, slots=True)
class Composition:
    """All trains made up for one question, or why there is none.

    Parameters
    ----------
    trains : tuple of MadeUp
        Best first.
    proven_best : bool
        No train reaches more of the aim than the first (``believable``: no better score); without
        a train: none exists.
    most : dict
        Upper bounds of score, vehicles and length.
    proof : Proof or None
        The first train against them, ties apart.
    infeasible : Why or None
        Why there is no train.
    aside : tuple of (name, reason)
        Vehicles that take no part.
    warnings : tuple of str
        What the reader should know.
    """

    trains: tuple[MadeUp, ...]
    proven_best: bool
    most: Mapping[str, float]
    proof: Proof | None
    infeasible: Why | None
    aside: tuple[tuple[str, str], ...]
    warnings: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        """Give the contract's JSON shape."""
        return {
            "trains": [t.as_json() for t in self.trains],
            "proven_best": self.proven_best,
            **(self.proof.as_json() if self.proof else {"at_most": dict(self.most), "gap": None}),
            "infeasible": self.infeasible.as_json() if self.infeasible else None,
            "set_aside": [{"vehicle": name, "why": why} for name, why in self.aside],
            "warnings": list(self.warnings),
        }


def compose(
    scene: Scene,
    aim: str = "longest",
    count: int = 1,
    *,
    recipes: Mapping[str, Recipe] | None = None,
    seconds: float = 8.0,
) -> Composition:
    """Make up the best trains for a scene.

    Parameters
    ----------
    scene : Scene
        Line, locomotive, shelf and wish.
    aim : str
        ``longest`` or ``believable``.
    count : int
        Trains wanted; fewer are given when no others differ enough.
    recipes : mapping, optional
        A person's own recipes, by id, before the shipped ones.
    seconds : float
        Time for the first train and its proof.
    """
    recipe = find_recipe(scene.wish.recipe, recipes) if scene.wish.recipe else None
    task = prepare_task(scene, recipe)
    best = solve(task, aim, count, seconds)
    infeasible = None if best.trains else explain(task)
    trains = best.trains
    if infeasible is not None and infeasible.train is not None:
        trains, infeasible = (infeasible.train,), None
    return Composition(
        trains=tuple(made_up(task, train) for train in trains),
        proven_best=best.proven and (infeasible is None or infeasible.proven),
        most=best.most,
        proof=best.proof,
        infeasible=infeasible,
        aside=task.aside,
        warnings=scene.warnings + tuple(_notes(task)),
    )


def made_up(task: Task, train: Train) -> MadeUp:
    """Gather haul, turning and rules of one train."""
    wish = task.scene.wish
    judged = judge(rules_of(task.recipe, wish), train, wish)
    return MadeUp(
        vehicles=train,
        turned=turning(task.locomotive.couplings[1], train) or (False,) * len(train),
        haul=haul_over(task.profile, task.locomotive, train),
        judged=judged,
        score=score(judged),
    )


def _notes(task: Task) -> list[str]:
    wish, recipe, notes = task.scene.wish, task.recipe, []
    if not in_years(task.locomotive.years, wish.year):
        notes.append(f"{task.locomotive.name} ran {task.locomotive.years}, not in {wish.year}")
    if recipe is None or wish.year is None:
        return notes
    if not recipe.first_year <= wish.year <= recipe.last_year:
        notes.append(f"the recipe {recipe.id!r} is for {recipe.first_year} to {recipe.last_year}")
    if wish.country and recipe.country and wish.country not in recipe.country:
        notes.append(f"the recipe {recipe.id!r} is for {', '.join(recipe.country)}")
    return notes
