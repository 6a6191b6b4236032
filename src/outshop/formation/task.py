"""A question to the solver: which vehicles may run, how long, how many.

Vehicles that cannot take part at all (wrong years, too tight a curve, forbidden) are set aside
with the reason, before any search.
"""

from dataclasses import dataclass
from math import gcd

from outshop.errors import InputError
from outshop.formation import walk as walking
from outshop.formation.recipes import Recipe
from outshop.formation.scene import Locomotive, Scene, Vehicle, Wish
from outshop.railway.edtf_years import read_years


@dataclass(frozen=True, slots=True)
class Task:
    """A question made ready for the search.

    Parameters
    ----------
    profile : Profile
        The line.
    locomotive : Locomotive
        The engine.
    vehicles : tuple of Vehicle
        Those that may take part, in shelf order.
    aside : tuple of (name, reason)
        Those that may not.
    room_units : int
        Length left for vehicles behind the engine, in walk units.
    recipe : Recipe or None
        Rules of the kind of train.
    scene : Scene
        The question as read.
    """

    profile: walking.Profile
    locomotive: Locomotive
    vehicles: tuple[Vehicle, ...]
    aside: tuple[tuple[str, str], ...]
    room_units: int
    recipe: Recipe | None
    scene: Scene

    @property
    def platform_units(self) -> int | None:
        """Longest stretch from the first to the last coach, in walk units; None is any."""
        wish = self.scene.wish
        return None if wish.platform_mm is None else units(wish.platform_mm)

    @property
    def step(self) -> int:
        """Largest length in walk units of which every length is a multiple."""
        lengths = [units(self.locomotive.length_mm), *(units(v.length_mm) for v in self.vehicles)]
        return gcd(*lengths)


def units(length_mm: float) -> int:
    """Whole walk units of a length."""
    return round(length_mm * walking.UNITS)


def in_years(years: str, year: int | None) -> bool:
    """Tell whether a window (EDTF, empty is always) holds the year (None is any)."""
    return year is None or not years or year in read_years(years)


def prepare_task(scene: Scene, recipe: Recipe | None = None) -> Task:
    """Set aside what cannot run, and make the rest ready.

    Raises
    ------
    InputError
        Two vehicles share a name, a coupling is unknown, or the fixed and forbidden lists
        contradict each other or name what is not on the shelf.
    """
    _check_names(scene)
    _check_couplings(scene)
    wish = scene.wish
    tightest = min((s.radius_mm for s in scene.line if s.radius_mm), default=0.0)
    stay: list[Vehicle] = []
    aside: list[tuple[str, str]] = []
    for vehicle in scene.vehicles:
        reason = _why_not(vehicle, scene, tightest, recipe)
        if reason:
            aside.append((vehicle.name, reason))
        else:
            stay.append(vehicle)
    everything = sum(units(v.length_mm) for v in stay)
    room = everything
    if wish.loop_mm is not None:
        room = min(everything, units(wish.loop_mm) - units(scene.locomotive.length_mm))
    return Task(
        profile=walking.prepare(scene.line, scene.curve_constant),
        locomotive=scene.locomotive,
        vehicles=tuple(stay),
        aside=tuple(aside),
        room_units=room,
        recipe=recipe,
        scene=scene,
    )


def _why_not(vehicle: Vehicle, scene: Scene, tightest: float, recipe: Recipe | None) -> str:
    wish = scene.wish
    if vehicle.name in wish.forbidden:
        return "forbidden by you"
    if not in_years(vehicle.years, wish.year):
        return f"ran {vehicle.years}, not in {wish.year}"
    if wish.year is not None and vehicle.built:
        first = read_years(vehicle.built).first
        if first is not None and first > wish.year:
            return f"built {vehicle.built}, after {wish.year}"
    if tightest and vehicle.min_radius_mm > tightest:
        return f"needs a radius of {vehicle.min_radius_mm:g} mm, the line has {tightest:g} mm"
    strange = [c for c in vehicle.couplings if wish.couplers and c not in wish.couplers]
    if strange:
        return f"its coupling {strange[0]} is not one that the line uncouples ({_listed(wish)})"
    if recipe is not None and not recipe.admits(vehicle, wish):
        return f"the kind {vehicle.kind} does not run in a {recipe.name}"
    return ""


def _listed(wish: Wish) -> str:
    return ", ".join(wish.couplers)


def _check_names(scene: Scene) -> None:
    names = [v.name for v in scene.vehicles]
    twice = sorted({n for n in names if names.count(n) > 1})
    if twice:
        message = f"two vehicles are called {twice[0]!r}: give each its own name"
        raise InputError(message)
    both = sorted(set(scene.wish.fixed) & set(scene.wish.forbidden))
    if both:
        message = f"{both[0]!r} is both fixed and forbidden: take it out of one list"
        raise InputError(message)
    strange = sorted((set(scene.wish.fixed) | set(scene.wish.forbidden)) - set(names))
    if strange:
        message = f"{strange[0]!r} is fixed or forbidden but not among the vehicles: check the name"
        raise InputError(message)


def _check_couplings(scene: Scene) -> None:
    if scene.vehicles and not scene.locomotive.couplings[1]:
        message = (
            "the locomotive's rear coupling is unknown: look at it and name it "
            '(couplings = ["front", "rear"]; equal names couple)'
        )
        raise InputError(message)
    for vehicle in scene.vehicles:
        if not all(vehicle.couplings):
            message = (
                f"the couplings of {vehicle.name!r} are unknown: look at them and name both "
                '(couplings = ["front", "rear"]; equal names couple)'
            )
            raise InputError(message)
