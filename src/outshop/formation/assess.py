"""One given train judged by the three tests, apart: believable, haulable, fits."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from outshop.formation.chance import Chance, chance
from outshop.formation.fullsize import Compression, full_size
from outshop.formation.haul import Haul, haul
from outshop.formation.hazards import (
    Pulled,
    Start,
    Supply,
    current_drawn,
    pulled_inward,
    start_on_grade,
)
from outshop.formation.helps import Remedy, remedies
from outshop.formation.joints import bad_joint_as_standing, first_bad_joint
from outshop.formation.platform import at_platform, is_coach
from outshop.formation.recipes import Recipe, find_recipe
from outshop.formation.rules import Judged, judge, rules_of, score
from outshop.formation.scene import Body, Scene, Vehicle, Wish
from outshop.formation.task import in_years, units
from outshop.formation.walk import UNITS


@dataclass(frozen=True, slots=True)
class Fit:
    """One demand of the line on the train: met or not, or unknown (None)."""

    what: str
    met: bool | None
    why: str

    def as_json(self) -> dict[str, Any]:
        """Give a plain mapping."""
        return {"what": self.what, "met": self.met, "why": self.why}


@dataclass(frozen=True, slots=True)
class Assessment:
    """The three tests of one train, and what goes with them."""

    haul: Haul
    chance: Chance
    start: Start
    pulled: tuple[Pulled, ...]
    supply: Supply
    remedies: tuple[Remedy, ...]
    fits: tuple[Fit, ...]
    judged: tuple[Judged, ...]
    compression: Compression
    warnings: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        """Give the contract's JSON shape, with more beside it."""
        return {
            **self.haul.as_json(),
            "probability": self.chance.probability,
            "needed_interval_g": [self.chance.needed_low_g, self.chance.needed_high_g],
            "alone_g": self.haul.alone_g,
            "start": {
                "needed_g": self.start.needed_g,
                "head_mm": self.start.head_mm,
                "starts": self.start.starts,
            },
            "pulled_inward": [
                {
                    "vehicle": p.vehicle,
                    "position": p.position,
                    "radius_mm": p.radius_mm,
                    "tension_g": p.tension_g,
                    "tipping_share": p.tipping_share,
                }
                for p in self.pulled
            ],
            "current": {
                "drawn_a": self.supply.drawn_a,
                "supply_a": self.supply.supply_a,
                "enough": self.supply.enough,
                "unknown": list(self.supply.unknown),
            },
            "would_help": [
                {
                    "what": r.what,
                    "verdict": r.haul.verdict,
                    "needed_g": r.haul.needed_g,
                    "margin_percent": r.haul.margin_percent,
                    "probability": r.probability,
                }
                for r in self.remedies
            ],
            "fits": [f.as_json() for f in self.fits],
            "believable": [j.as_json() for j in self.judged],
            "score": score(self.judged),
            "full_size": self.compression.as_json(),
            "warnings": list(self.warnings),
        }

    def as_rows(self) -> list[tuple[str, str]]:
        """Give what a person reads first, as rows of label and text."""
        worst = f"head at {self.haul.head_mm:.0f} mm, section {self.haul.section}"
        rows = [
            ("verdict", self.haul.verdict),
            ("needs", f"{self.haul.needed_g:.1f} g of {self.haul.available_g:.1f} g ({worst})"),
            ("margin", f"{self.haul.margin_percent:.0f} % of the pull is left"),
            ("chance", f"{100 * self.chance.probability:.0f} % to get round"),
            (
                "starting",
                f"{self.start.needed_g:.1f} g at the worst place to stop: "
                + ("starts" if self.start.starts else "does not start there"),
            ),
            ("length", f"{self.haul.length_mm:g} mm"),
        ]
        rows += [
            ("fits" if f.met else "unknown" if f.met is None else "does not fit", f.why)
            for f in self.fits
        ]
        rows += [
            ("met" if j.met else "not met", f"{j.rule.why} ({j.rule.strength})")
            for j in self.judged
        ]
        rows += [
            ("would help", f"{r.what}: {r.haul.verdict}, {100 * r.probability:.0f} %")
            for r in self.remedies
        ]
        return rows


def assess(
    scene: Scene,
    train: tuple[Vehicle, ...] | None = None,
    *,
    turned: Sequence[bool] | None = None,
    recipes: Mapping[str, Recipe] | None = None,
) -> Assessment:
    """Hold a train to the three tests.

    Parameters
    ----------
    scene : Scene
        Line, locomotive and wish.
    train : tuple of Vehicle, optional
        From the engine backwards; the whole shelf in file order by default.
    turned : sequence of bool, optional
        Which stand the other way round; by default each may be turned as the joints need.
    recipes : mapping, optional
        A person's own recipes, by id, before the shipped ones.
    """
    vehicles = scene.vehicles if train is None else train
    found = haul(scene, vehicles)
    recipe = find_recipe(scene.wish.recipe, recipes) if scene.wish.recipe else None
    pulled = pulled_inward(scene, vehicles)
    supply = current_drawn(scene, vehicles)
    warnings = list(scene.warnings)
    if not found.climbs_alone:
        warnings.append(
            f"{scene.locomotive.name} cannot even climb alone: its own weight asks "
            f"{found.alone_g:.4g} g on the steepest grade, it pulls {found.optimistic_g:.4g} g"
        )
    warnings += [
        f"{p.vehicle} (place {p.position}) is pulled inward on the curve of {p.radius_mm:.0f} mm: "
        f"put it further back or weight it"
        for p in pulled
    ]
    if supply.enough is False:
        warnings.append(f"the train draws {supply.drawn_a:.2f} A, more than {supply.supply_a:g} A")
    return Assessment(
        haul=found,
        chance=chance(scene, vehicles),
        start=start_on_grade(scene, vehicles),
        pulled=pulled,
        supply=supply,
        remedies=()
        if found.verdict == "hauls" and found.margin_percent > 20
        else remedies(scene, vehicles),
        fits=tuple(fits(scene, vehicles, found.length_mm, turned)),
        judged=judge(rules_of(recipe, scene.wish), vehicles, scene.wish),
        compression=full_size(scene, vehicles, recipe),
        warnings=tuple(warnings),
    )


def fits(
    scene: Scene,
    train: tuple[Vehicle, ...],
    length_mm: float,
    turned: Sequence[bool] | None = None,
) -> list[Fit]:
    """Hold a train to the loop, the curves, the joints and the year."""
    wish, engine = scene.wish, scene.locomotive
    found = [*_fits_platform(wish, train), *_fits_couplers(scene, train)]
    bodies: list[Body] = [engine, *train]
    if wish.loop_mm is not None:
        found.append(
            Fit(
                "loop",
                length_mm <= wish.loop_mm + 1e-6,
                f"{length_mm:g} mm of train, loops of {wish.loop_mm:g} mm",
            )
        )
    tightest = min((s.radius_mm for s in scene.line if s.radius_mm), default=0.0)
    if tightest:
        tight = [b.name for b in bodies if b.min_radius_mm > tightest]
        found.append(
            Fit(
                "radius",
                not tight,
                f"the tightest curve is {tightest:g} mm"
                + (": too tight for " + ", ".join(tight) if tight else ""),
            )
        )
    if not engine.couplings[1] or not all(all(v.couplings) for v in train):
        found.append(Fit("couplings", None, "not all couplings are known"))
    else:
        rear = engine.couplings[1]
        bad = (
            first_bad_joint(rear, train)
            if turned is None
            else bad_joint_as_standing(rear, train, turned)
        )
        found.append(
            Fit(
                "couplings",
                bad is None,
                "every joint couples"
                if bad is None
                else f"{train[bad].name} does not couple to what stands before it",
            )
        )
    if wish.year is not None:
        late = [b.name for b in bodies if not in_years(b.years, wish.year)]
        found.append(
            Fit(
                "year",
                not late,
                f"all ran in {wish.year}"
                if not late
                else f"not in {wish.year}: " + ", ".join(late),
            )
        )
    return found


def _fits_platform(wish: Wish, train: tuple[Vehicle, ...]) -> list[Fit]:
    """Hold what lies between the first and the last coach to the shortest platform."""
    coach = [is_coach(v) for v in train]
    if wish.platform_mm is None or not any(coach):
        return []
    length = at_platform(coach, [units(v.length_mm) for v in train]) / UNITS
    why = f"{length:g} mm of coaches, platforms of {wish.platform_mm:g} mm"
    return [Fit("platform", length <= wish.platform_mm + 1e-6, why)]


def _fits_couplers(scene: Scene, train: tuple[Vehicle, ...]) -> list[Fit]:
    """Hold every coupling to those that the line's places for uncoupling work with."""
    known = scene.wish.couplers
    if not known:
        return []
    ends = [("the engine", scene.locomotive.couplings[1])]
    ends += [(v.name, c) for v in train for c in v.couplings]
    strange = list(dict.fromkeys(name for name, c in ends if c and c not in known))
    kinds = ", ".join(known)
    if strange:
        why = f"the line uncouples {kinds}: not {', '.join(strange)}"
        return [Fit("couplers", False, why)]
    return [Fit("couplers", None if any(not c for _, c in ends) else True,
                f"the line uncouples {kinds}")]  # fmt: skip
