"""Rolling resistance of one vehicle: tilting board, ramp or coasting.

The coefficient c is drag over weight, in permille; on a slope it just rolls at tan(slope) = c.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from outshop.bench.readings import positive, repeated
from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable, Reading

GRAVITY = 9.80665  # m/s2, standard value of ISO 80000-3
FREE_PERMILLE = 28.0  # 1 in 36: a good wagon must start on it (an H0 handbook, 6th edition)
STEEPEST_DEG = 20.0  # beyond it wheels slide or the vehicle tips; our own limit


def from_tilt(angles_deg: Sequence[float], *, resolution_deg: float = 0.2) -> Estimate:
    """Give the coefficient from the angles at which it just rolls, permille.

    This is the resistance of starting, which is never below that of running.

    Parameters
    ----------
    angles_deg : sequence of float
        One for each try, turning the vehicle round between tries, degrees.
    resolution_deg : float
        Smallest step that the level or phone shows.

    Raises
    ------
    InputError
        An angle is not between 0 and 20 degrees.
    """
    for one in angles_deg:
        if not 0 < one < STEEPEST_DEG:
            message = f"a tilt of {one:g} degrees is not between 0 and {STEEPEST_DEG:g}"
            raise InputError(message)
    angle = repeated(angles_deg, "deg", resolution=resolution_deg, method="tilt at which it rolls")
    floor = Estimate(angle.value, max(0.0, angle.low), angle.high, "deg", method=angle.method)
    return floor.map(lambda a: 1000 * math.tan(math.radians(a)), "permille").with_note(
        *angle.warnings
    )


def from_slope(
    heights_mm: Sequence[float], base_mm: float, *, resolution_mm: float = 0.5
) -> Estimate:
    """Give the coefficient from the height of one end of a board of known base, permille.

    Raises
    ------
    InputError
        A length is not positive.
    """
    positive(base_mm, "the base of the board", "mm")
    for one in heights_mm:
        positive(one, "the height", "mm")
    height = repeated(heights_mm, "mm", resolution=resolution_mm, method="height at which it rolls")
    low = max(0.0, height.low)
    return (
        Estimate(height.value, low, height.high, "mm", method=height.method)
        .map(lambda h: 1000 * h / base_mm, "permille")
        .with_note(*height.warnings)
    )


def from_ramp(
    distances_mm: Sequence[float], height_mm: float, ramp_mm: float, *, resolution_mm: float = 5.0
) -> Estimate:
    """Give the coefficient from how far it rolls on the level beyond a ramp, permille.

    The height is spent over the ramp's base and the level: c = h / (base + distance). The
    kink at the foot takes a little more, so that c comes out slightly high.

    Parameters
    ----------
    distances_mm : sequence of float
        Rolled on the level, mm.
    height_mm, ramp_mm : float
        Height of the start above the level, and length along the ramp, mm.

    Raises
    ------
    InputError
        A length is not positive, or the ramp is shorter than its height.
    """
    positive(height_mm, "the height of the ramp", "mm")
    if ramp_mm <= height_mm:
        message = f"a ramp of {ramp_mm:g} mm cannot rise {height_mm:g} mm"
        raise InputError(message)
    for distance in distances_mm:
        positive(distance, "the distance rolled", "mm")
    base = math.sqrt(ramp_mm**2 - height_mm**2)
    rolled = repeated(distances_mm, "mm", resolution=resolution_mm, method="roll from a ramp")
    shortest = max(0.0, rolled.low)
    kept = Estimate(rolled.value, shortest, rolled.high, "mm", method=rolled.method)
    return kept.map(lambda d: 1000 * height_mm / (base + d), "permille").with_note(*rolled.warnings)


def from_coast(speed: Estimate, distance: Estimate, *, rotating: float = 0.0) -> Reading:
    """Give the coefficient from speed (m/s) and coasting distance (mm), permille.

    Parameters
    ----------
    speed, distance : Estimate
        At the moment power went off, and from there to rest.
    rotating : float
        Energy in turning parts over energy of travel: near 0 for wagons, much more with a
        flywheel; it multiplies the result by 1 + rotating.
    """
    square = speed.map(lambda v: v * abs(v), "m2/s2")
    ratio = square.over(distance / 1000, "m/s2")
    if not isinstance(ratio, Estimate):
        return NotMeasurable("the distance cannot be told from zero", "permille")
    found = ratio * (1000 * (1 + rotating) / (2 * GRAVITY))
    return Estimate(
        found.value, found.low, found.high, "permille", method="v2 / (2 g distance)",
        warnings=found.warnings,
    )  # fmt: skip


def from_coasting(
    speeds_m_s: Sequence[float],
    distances_mm: Sequence[float],
    *,
    resolution_m_s: float = 0.005,
    resolution_mm: float = 5.0,
) -> Estimate:
    """Give the coefficient from readings of speed and coasting distance, permille.

    Raises
    ------
    InputError
        A reading is not positive, or they leave it open.
    """
    for one in speeds_m_s:
        positive(one, "the speed", "m/s")
    for one in distances_mm:
        positive(one, "the distance coasted", "mm")
    speed = repeated(speeds_m_s, "m/s", resolution=resolution_m_s)
    distance = repeated(distances_mm, "mm", resolution=resolution_mm)
    found = from_coast(speed, distance)
    if not isinstance(found, Estimate):
        message = f"coasting tells nothing: {found.reason}; let it coast farther"
        raise InputError(message)
    return found


@dataclass(frozen=True, slots=True)
class RollingChange:
    """Rolling resistance before and after work."""

    change: Estimate
    verdict: Literal["better", "no_provable_change", "worse"]


def compare(before: Estimate, after: Estimate) -> RollingChange:
    """Compare before and after, permille; the interval of the change decides."""
    change = after - before
    if change.high < 0:
        return RollingChange(change, "better")
    return RollingChange(change, "worse" if change.low > 0 else "no_provable_change")


def judgement(coefficient: Estimate) -> str:
    """Say in words what a coefficient means."""
    if coefficient.high < FREE_PERMILLE:
        return "rolls freely: it starts by itself on 1 in 36"
    if coefficient.low > FREE_PERMILLE:
        return "rolls hard: clean and lubricate the bearings, look for rubbing, check the gauge"
    return "about the usual limit of 1 in 36: measure more often to be sure"
