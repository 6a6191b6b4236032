"""What is missing on the shelf: kinds ranked by how much one more vehicle would add."""

from dataclasses import dataclass, replace
from statistics import median

from outshop.formation.kinds import family, kinds
from outshop.formation.recipes import Recipe, selects
from outshop.formation.scene import Range, Scene, Vehicle
from outshop.formation.solve import solve, value_of
from outshop.formation.task import prepare_task

# A typical model where the shelf has none of the family to go by (H0, our judgement).
TYPICAL_LENGTH_MM, TYPICAL_MASS_G = 115.0, 60.0


@dataclass(frozen=True, slots=True)
class Wanted:
    """One kind to look for, and what one more of it would bring."""

    kind: str
    score_gain: float
    vehicles_gain: int

    @property
    def sentence(self) -> str:
        """Say what it adds."""
        parts = []
        if self.score_gain > 0:
            parts.append(f"{self.score_gain:.0f} points of belief")
        if self.vehicles_gain > 0:
            parts.append(f"{self.vehicles_gain} more in the train")
        return f"{self.kind}: {', '.join(parts)}"


def missing(scene: Scene, recipe: Recipe | None, seconds: float = 6.0) -> tuple[Wanted, ...]:
    """Try one more vehicle of each kind that the recipe admits; give those that add something.

    Each tried vehicle is a usual one: median length and mass of its family on the shelf.

    Parameters
    ----------
    scene : Scene
        The question.
    recipe : Recipe or None
        Its kind of train.
    seconds : float
        For all kinds together.
    """
    tried = [k for k in kinds() if k != "other" and _admitted(k, scene, recipe)]
    each = seconds / (len(tried) + 1)
    before = _value(scene, recipe, each)
    found = []
    for kind in tried:
        more = replace(scene, vehicles=(*scene.vehicles, usual(kind, scene)))
        score, number = _value(more, recipe, each)
        gain = Wanted(kind, round(score - before[0], 6), number - before[1])
        if gain.score_gain > 0 or (gain.score_gain == 0 and gain.vehicles_gain > 0):
            found.append(gain)
    return tuple(sorted(found, key=lambda w: (-w.score_gain, -w.vehicles_gain, w.kind)))


def usual(kind: str, scene: Scene) -> Vehicle:
    """Give a usual vehicle of a kind, coupling like the locomotive's rear."""
    like = [v for v in scene.vehicles if family(v.kind) == family(kind)]
    rear = scene.locomotive.couplings[1]
    return Vehicle(
        name=f"one more {kind}",
        length_mm=round(median([v.length_mm for v in like]), 1) if like else TYPICAL_LENGTH_MM,
        mass_g=round(median([v.mass_g for v in like]), 1) if like else TYPICAL_MASS_G,
        kind=kind,
        rolling=Range(20.0, 20.0, 20.0),
        couplings=(rear, rear),
        country=scene.wish.country,
    )


def _admitted(kind: str, scene: Scene, recipe: Recipe | None) -> bool:
    if recipe is None or not recipe.kinds:
        return True
    return any(selects(s, usual(kind, scene), scene.wish) for s in recipe.kinds)


def _value(scene: Scene, recipe: Recipe | None, seconds: float) -> tuple[float, int]:
    task = prepare_task(scene, recipe)
    best = solve(task, "believable", 1, seconds)
    if not best.trains:
        return 0.0, 0
    score, number, _ = value_of(task, best.trains[0])
    return score, number
