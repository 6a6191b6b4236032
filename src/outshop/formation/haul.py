"""Can this engine take this train over this line? The contract's answer."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from outshop.formation import walk as walking
from outshop.formation.scene import Locomotive, Scene, Vehicle

TOLERANCE_G = 1e-9  # forces that differ less are the same force (rounding of floats)


@dataclass(frozen=True, slots=True)
class Haul:
    """The force a train needs at its worst place, against the pull.

    Parameters
    ----------
    needed_g : float
        Largest force over all places, grams-force.
    available_g : float
        The pull on the level that may be counted on: its low end where known.
    optimistic_g : float
        High end of the pull where known, else the pull.
    head_mm : float
        A head at which the largest force is needed (middle of that stretch), from the start
        of the line.
    section : int
        Section, from 1, that asks most of the force there; 0 when the train is off the line.
    length_mm : float
        Train over all.
    alone_g : float
        Force that the locomotive needs for itself at its own worst place.
    """

    needed_g: float
    available_g: float
    optimistic_g: float
    head_mm: float
    section: int
    length_mm: float
    alone_g: float

    @property
    def margin_percent(self) -> float:
        """Share of the available pull that is left: 100 x (available - needed) / available."""
        return 100 * (self.available_g - self.needed_g) / self.available_g

    @property
    def verdict(self) -> str:
        """Tell ``hauls`` up to the low end of the pull, ``stalls`` above the high end."""
        if self.needed_g <= self.available_g + TOLERANCE_G:
            return "hauls"
        return "marginal" if self.needed_g <= self.optimistic_g + TOLERANCE_G else "stalls"

    @property
    def climbs_alone(self) -> bool:
        """Tell whether the locomotive gets round without a train."""
        return self.alone_g <= self.optimistic_g + TOLERANCE_G

    def as_json(self) -> dict[str, Any]:
        """Give the contract's JSON shape."""
        return {
            "needed_g": self.needed_g,
            "available_g": self.available_g,
            "margin_percent": self.margin_percent,
            "worst": {"head_mm": self.head_mm, "section": self.section},
            "verdict": self.verdict,
            "length_mm": self.length_mm,
        }


def haul(scene: Scene, vehicles: tuple[Vehicle, ...] | None = None) -> Haul:
    """Walk a train over the scene's line and give its worst place.

    Parameters
    ----------
    scene : Scene
        Line, locomotive and shelf.
    vehicles : tuple of Vehicle, optional
        The train from the engine backwards; the whole shelf in file order by default.
    """
    train = scene.vehicles if vehicles is None else vehicles
    profile = walking.prepare(scene.line, scene.curve_constant)
    return haul_over(profile, scene.locomotive, train)


def haul_over(profile: walking.Profile, locomotive: Locomotive, train: tuple[Vehicle, ...]) -> Haul:
    """Do the same as :func:`haul` on a line made ready before."""
    places = walking.walk(profile, locomotive, train)
    needed = places.needed_g
    worst = int(np.flatnonzero(needed >= needed.max() - TOLERANCE_G)[0])
    head = (int(places.start[worst]) + int(places.end[worst])) // 2
    return Haul(
        needed_g=float(needed[worst]),
        available_g=locomotive.available_g,
        optimistic_g=locomotive.optimistic_g,
        head_mm=head / (2 * walking.UNITS),
        section=_heaviest_section(profile, locomotive, train, head),
        length_mm=walking.train_length_mm(locomotive, train),
        alone_g=locomotive.mass_g * max(0.0, float(profile.grade.max())) / 1000,
    )


def _heaviest_section(
    profile: walking.Profile, locomotive: Locomotive, train: tuple[Vehicle, ...], head: int
) -> int:
    sections = walking.sections_under(profile, locomotive, train, head)
    asked = np.zeros(len(profile.grade))
    asked[sections[0]] += locomotive.mass_g * profile.grade[sections[0]]
    for vehicle, section in zip(train, sections[1:], strict=True):
        asked[section] += vehicle.mass_g * (vehicle.rolling_permille + profile.effective[section])
    asked[[0, -1]] = -np.inf
    if set(sections.tolist()) <= {0, len(profile.grade) - 1}:
        return 0
    return int(asked.argmax())
