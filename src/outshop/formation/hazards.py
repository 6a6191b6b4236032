"""What else can stop a train: starting on the grade, string-lining, the supply."""

from dataclasses import dataclass

import numpy as np

from outshop.formation import walk as walking
from outshop.formation.scene import Scene, Vehicle

# Share of the tipping moment from which a wagon is warned of: half, to leave room for jerks
# and uneven track (our judgement).
TIPPING_SHARE = 0.5
# Coupler height over rail against half the gauge: about 1 for the usual coupler heights
# (our judgement; 8.5 mm over 8.25 mm at 16.5 mm gauge).
HEIGHT_OVER_HALF_GAUGE = 8.5 / 8.25


@dataclass(frozen=True, slots=True)
class Start:
    """Force to start the train again at its worst place, with rolling times the start factor."""

    needed_g: float
    head_mm: float
    starts: bool


@dataclass(frozen=True, slots=True)
class Pulled:
    """A vehicle pulled inward on a curve: its share of the tipping moment there."""

    vehicle: str
    position: int
    radius_mm: float
    tension_g: float
    tipping_share: float


@dataclass(frozen=True, slots=True)
class Supply:
    """Current of engine and lit vehicles against the supply, ampere."""

    drawn_a: float
    supply_a: float | None
    unknown: tuple[str, ...]

    @property
    def enough(self) -> bool | None:
        """Tell whether the supply suffices; None when the supply is not known."""
        return None if self.supply_a is None else self.drawn_a <= self.supply_a


def start_on_grade(scene: Scene, train: tuple[Vehicle, ...]) -> Start:
    """Find the worst place to stop at.

    A standing train needs more than a rolling one: rolling resistance is multiplied by the
    scene's ``start_factor`` (1.5 unless measured; common practice, no source).
    """
    profile = walking.prepare(scene.line, scene.curve_constant)
    places = walking.walk(profile, scene.locomotive, train)
    needed = places.needed_g + (scene.start_factor - 1) * places.rolling_g
    worst = int(needed.argmax())
    head = (int(places.start[worst]) + int(places.end[worst])) / (4 * walking.UNITS)
    force = float(needed[worst])
    return Start(force, head, force <= scene.locomotive.available_g + 1e-9)


def pulled_inward(scene: Scene, train: tuple[Vehicle, ...]) -> tuple[Pulled, ...]:
    """Find vehicles that the couplers pull towards the inside of a curve.

    A vehicle of length l under tension T at both ends on a radius R is pulled inward by about
    T l / R (each end turns by l / 2R). It tips about the inner rail when that force times the
    coupler height reaches its weight times half the gauge. The tension in front of a vehicle is
    the resistance of all that hangs behind, itself included.
    """
    if not train:
        return ()
    profile = walking.prepare(scene.line, scene.curve_constant)
    places = walking.walk(profile, scene.locomotive, train)
    offsets = walking.middles(scene.locomotive, train)[1:]
    section = np.searchsorted(
        profile.borders, places.start[:, None] - offsets[None, :], side="right"
    )
    mass = np.array([v.mass_g for v in train])
    rolling = np.array([v.rolling_permille for v in train])
    force = mass * (rolling + profile.effective[section]) / 1000
    tension = np.maximum(0.0, np.cumsum(force[:, ::-1], axis=1)[:, ::-1])
    length = np.array([v.length_mm for v in train])
    share = tension * length * profile.curve[section] * HEIGHT_OVER_HALF_GAUGE / mass
    found = []
    for k in np.flatnonzero(share.max(axis=0) >= TIPPING_SHARE):
        worst = int(share[:, k].argmax())
        found.append(
            Pulled(
                train[k].name,
                int(k) + 1,
                float(1 / profile.curve[section[worst, k]]),
                float(tension[worst, k]),
                float(share[worst, k]),
            )
        )
    return tuple(found)


def current_drawn(scene: Scene, train: tuple[Vehicle, ...]) -> Supply:
    """Add up the current of the engine and the lit vehicles.

    A vehicle without ``current_a`` counts as unlit; only an engine without it is unknown.
    """
    engine = scene.locomotive
    unknown = () if engine.current_a is not None else (engine.name,)
    drawn = (engine.current_a or 0.0) + sum(v.current_a or 0.0 for v in train)
    return Supply(drawn, scene.supply_a, unknown)
