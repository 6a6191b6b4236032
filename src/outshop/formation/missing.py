"""What is missing on the shelf: kinds ranked by how much one more vehicle would add."""

from dataclasses import dataclass, replace
from statistics import median

from outshop.formation.exact import Train
from outshop.formation.kinds import family, kinds
from outshop.formation.recipes import Recipe, selects
from outshop.formation.scene import Range, Scene, Vehicle
from outshop.formation.solve import solve, value_of
from outshop.formation.task import Task, prepare_task

# A typical model where the shelf has none of the family to go by (H0, our judgement).
TYPICAL_LENGTH_MM, TYPICAL_MASS_G = 115.0, 60.0
BEFORE_SHARE = 0.4  # of the time, for the best train without anything new


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
    plain = prepare_task(scene, recipe)
    before = solve(plain, "believable", 1, BEFORE_SHARE * seconds)
    train = before.trains[0] if before.trains else ()
    each = (1 - BEFORE_SHARE) * seconds / max(1, 2 * len(tried))
    with_new = {}
    for kind in tried:
        more = prepare_task(replace(scene, vehicles=(*scene.vehicles, usual(kind, scene))), recipe)
        value, bettered = _with_one_more(more, train, each)
        with_new[kind] = value
        if not before.best_of_equals and value > _value(plain, train):
            # what the shelf can do without the new vehicle is no gain of its kind
            again = solve(plain, "believable", 1, each, start=bettered[1:])
            if again.trains and _value(plain, again.trains[0]) > _value(plain, train):
                train = again.trains[0]
    score, number = _value(plain, train)
    found = [Wanted(k, round(s - score, 6), n - number) for k, (s, n) in with_new.items()]
    gains = [w for w in found if (w.score_gain, w.vehicles_gain) > (0, 0)]
    return tuple(sorted(gains, key=lambda w: (-w.score_gain, -w.vehicles_gain, w.kind)))


def _with_one_more(more: Task, train: Train, seconds: float) -> tuple[tuple[float, int], Train]:
    """Give the value of the best train with the new vehicle in it, and that train, it first."""
    new = more.scene.vehicles[-1]
    wish = replace(more.scene.wish, fixed=(*more.scene.wish.fixed, new.name))
    asked = replace(more, scene=replace(more.scene, wish=wish))
    best = solve(asked, "believable", 1, seconds, start=(new, *train))
    found = best.trains[0] if best.trains else ()
    return _value(more, found), (new, *(v for v in found if v.name != new.name))


def _value(task: Task, train: Train) -> tuple[float, int]:
    return value_of(task, train)[:2] if train else (0.0, 0)


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
