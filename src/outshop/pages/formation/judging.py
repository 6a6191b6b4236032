"""One order of vehicles held to the three tests, as the pages ask for it."""

from dataclasses import dataclass, replace

from django.utils.translation import gettext as _

from outshop.errors import InputError
from outshop.formation.assess import Assessment, assess, fits
from outshop.formation.haul import Haul, haul
from outshop.formation.helps import Remedy
from outshop.formation.recipes import Recipe, find_recipe
from outshop.formation.rules import judge, rules_of, score
from outshop.formation.scene import Scene, Vehicle
from outshop.formation.task import prepare_task
from outshop.pages.formation.orders import Order
from outshop.records.models import Formation
from outshop.records.queries import formations as queries


@dataclass(frozen=True, slots=True)
class Desk:
    """A train's whole question, ready to judge one order after the other."""

    formation: Formation
    scene: Scene
    known: dict[str, Vehicle]
    recipes: dict[str, Recipe]
    recipe: Recipe | None
    aside: dict[str, str]

    def judged(self, order: Order) -> "Judged":
        """Hold an order to the three tests."""
        vehicles = tuple(self.known[v.name] for v in order.vehicles)
        scene = replace(self.scene, vehicles=vehicles)
        found = assess(scene, vehicles, turned=order.turned, recipes=self.recipes)
        strange = {v.name: self.aside[v.name] for v in vehicles if v.name in self.aside}
        return Judged(order, scene, vehicles, found, score(found.judged), strange)

    def glance(self, order: Order) -> "Glance":
        """Hold an order to the three tests, without chance, starting and remedies."""
        vehicles = tuple(self.known[v.name] for v in order.vehicles)
        scene = replace(self.scene, vehicles=vehicles)
        walked = haul(scene, vehicles)
        misfits = fits(scene, vehicles, walked.length_mm, order.turned)
        judged = judge(rules_of(self.recipe, scene.wish), vehicles, scene.wish)
        return Glance(walked, score(judged), tuple(f.why for f in misfits if f.met is False))


@dataclass(frozen=True, slots=True)
class Glance:
    """What a choice is told by: force, score and what does not fit."""

    haul: Haul
    score: float
    misfits: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Judged:
    """One order with all that is said of it; ``strange`` tells why a vehicle may not run in it."""

    order: Order
    scene: Scene
    vehicles: tuple[Vehicle, ...]
    assessment: Assessment
    score: float
    strange: dict[str, str]

    @property
    def fits(self) -> bool:
        """Tell whether nothing is known that does not fit."""
        return all(f.met is not False for f in self.assessment.fits)

    @property
    def chance(self) -> str:
        """Chance to get round in words."""
        return chance_words(self.assessment.chance.probability)

    @property
    def remedies(self) -> list[tuple[Remedy, str]]:
        """Give what would help, each with the chance it leaves."""
        return [(r, chance_words(r.probability)) for r in self.assessment.remedies]

    @property
    def misfits(self) -> list[str]:
        """Say what does not fit."""
        return [f.why for f in self.assessment.fits if f.met is False]

    @property
    def broken(self) -> list[str]:
        """Say which rules are not kept, those of most weight first."""
        order = ("forbidden", "unusual", "typical")
        found = [j.rule for j in self.assessment.judged if not j.met]
        return [r.why for r in sorted(found, key=lambda r: order.index(r.strength))]

    @property
    def forbidden(self) -> int:
        """Count what must not be: forbidding rules broken and vehicles that may not run."""
        broken = [j for j in self.assessment.judged if not j.met and j.rule.strength == "forbidden"]
        return len(broken) + len(self.strange)


def chance_words(share: float) -> str:
    """Write a chance in whole per cent, never as a certainty."""
    if share > 0.99:
        return _("over 99 %")
    return _("under 1 %") if share < 0.01 else f"{100 * share:.0f} %"


def desk_of(formation: Formation) -> Desk:
    """Gather a train's question with the whole shelf."""
    scene = queries.scene_of(formation)
    recipes = queries.own_recipes()
    recipe = find_recipe(formation.recipe, recipes) if formation.recipe else None
    try:
        aside = dict(prepare_task(scene, recipe).aside)
    except InputError:
        aside = {}  # a coupling is not known; the test of the joints says so
    known = {v.name: v for v in scene.vehicles}
    return Desk(formation, scene, known, recipes, recipe, aside)
