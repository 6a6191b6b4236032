"""What motor constants mean: sentences from one motor alone and against a healthy twin.

The signs follow from the motor model; what they are worth in practice is common practice.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from outshop.bench.electrics.motor_points import Points
from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable, Reading

STALL_SCATTER = 0.12  # relative spread of stall resistances; copper heating stays below it
HEAVY_FRICTION = 0.3  # light over stall current; healthy small motors lie at 0.1 to 0.25
CHANGED = 0.15  # least relative change worth a name, against a twin
SLIPPING = 0.05


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing the constants say; ``id`` is short and stable, ``sentence`` for a person."""

    id: str
    sentence: str


def alone(
    given: Points,
    resistance: Reading,
    light_current: Reading,
    stall_current: Reading,
    winding_ohm: float | None = None,
) -> list[Finding]:
    """Judge one motor by itself."""
    found = _stall_scatter(given)
    if isinstance(light_current, Estimate) and isinstance(stall_current, Estimate):
        share = light_current.value / stall_current.value
        if share > HEAVY_FRICTION:
            found.append(
                Finding(
                    "friction-up",
                    f"light running takes {share:.0%} of the stall current: friction is up "
                    "or the magnet is weak; compare with a healthy twin",
                )
            )
    if winding_ohm and isinstance(resistance, Estimate) and resistance.low > 1.5 * winding_ohm:
        found.append(
            Finding(
                "brush-contact",
                f"{resistance.value:.3g} ohm while held, but {winding_ohm:.3g} ohm in the winding: "
                "the rest is lost at brushes, commutator or wires",
            )
        )
    if isinstance(resistance, Estimate) and isinstance(light_current, Estimate):
        found.append(_magnet_sense(given, resistance.value, light_current.value))
    return found


def _stall_scatter(given: Points) -> list[Finding]:
    held = given.stalled
    if held.sum() < 2:
        return []
    ohms = given.voltage_v[held] / given.current_a[held]
    spread = float(np.ptp(ohms) / ohms.mean())
    if spread <= STALL_SCATTER:
        return []
    return [
        Finding(
            "stall-varies",
            f"the held motor shows {ohms.min():.3g} to {ohms.max():.3g} ohm: brush contact, or a "
            "bad coil if it follows the angle; read the segments",
        )
    ]


def _magnet_sense(given: Points, resistance: float, light: float) -> Finding:
    """Light speed is (V - I0 R)/k with I0 = T/k: its slope in k changes sign at I0 R = V/2."""
    volts = float(given.voltage_v[given.light].max())
    if light * resistance < volts / 2:
        text = "a weak magnet would make this motor run faster light, not slower (I0 R below V/2)"
    else:
        text = "a weak magnet would make this motor slower even light (I0 R above V/2)"
    return Finding("magnet-sense", text)


def against_twin(own: dict[str, Reading], twin: dict[str, Reading]) -> list[Finding]:
    """Judge against the same constants of a healthy twin.

    Parameters
    ----------
    own, twin : dict of str to Reading
        With the keys ``resistance``, ``constant`` and ``friction_torque``.
    """
    changes = {key: _change(own[key], twin[key]) for key in own}
    found = []
    for key, sign, name, sentence in (
        ("friction_torque", 1, "friction-up", "friction is up"),
        (
            "constant",
            -1,
            "magnet-weak",
            "the magnet is weak, or turns are missing",
        ),
        ("resistance", 1, "brush-contact", "brush or commutator contact is bad, or a coil is open"),
        ("resistance", -1, "coil-shorted", "a coil is shorted: read the segments"),
    ):
        change = changes.get(key)
        if isinstance(change, Estimate) and _clearly(change, sign):
            words = key.replace("_", " ")
            found.append(
                Finding(name, f"{sentence}: {words} {change.value:+.0f} % against the twin")
            )
    if not found and any(isinstance(c, Estimate) for c in changes.values()):
        found.append(Finding("like-twin", "no provable difference to the twin"))
    return found


def _clearly(change: Estimate, sign: int) -> bool:
    nearest = change.low if sign > 0 else -change.high
    return nearest > 0 and sign * change.value > 100 * CHANGED


def _change(own: Reading, twin: Reading) -> Reading:
    if not isinstance(own, Estimate) or not isinstance(twin, Estimate):
        return NotMeasurable("one of the two is missing", "percent")
    ratio = own.over(twin, "")
    if not isinstance(ratio, Estimate):
        return NotMeasurable(ratio.reason, "percent")
    return ratio.map(lambda x: 100 * (x - 1), "percent")


def pick_up(direct_ohm: Reading, through_track_ohm: Reading) -> Finding | None:
    """Judge the pick-up: what resistance the track, wheels and shoes add to the motor's own."""
    if not isinstance(direct_ohm, Estimate) or not isinstance(through_track_ohm, Estimate):
        return None
    lost = through_track_ohm - direct_ohm
    if lost.low > 0 and lost.value > CHANGED * direct_ohm.value:
        return Finding(
            "pick-up",
            f"pick-up bad: {lost.value:.2g} ohm are lost between track and motor "
            f"({lost.low:.2g} to {lost.high:.2g})",
        )
    return Finding("pick-up-good", "no provable loss between track and motor")


def drive_slip(
    motor_rev_per_s: float, wheel_rev_per_s: float, ratio: float
) -> tuple[float, Finding]:
    """Compare the wheel's speed with what the gears should give.

    Parameters
    ----------
    ratio : float
        Motor turns for one wheel turn.

    Returns
    -------
    slip, finding : float, Finding
        Lost share of speed, 0 to 1.
    """
    if not (motor_rev_per_s > 0 and wheel_rev_per_s >= 0 and ratio > 0):
        message = f"no slip from {motor_rev_per_s:g}, {wheel_rev_per_s:g} 1/s and ratio {ratio:g}"
        raise InputError(message)
    expected = motor_rev_per_s / ratio
    slip = 1 - wheel_rev_per_s / expected
    if slip > SLIPPING:
        return slip, Finding("drive-slips", f"the drive slips: {slip:.0%} of the turns are lost")
    if slip < -SLIPPING:
        return slip, Finding("ratio-wrong", "the wheels turn faster than the gears allow: check it")
    return slip, Finding("drive-holds", "no slip in the drive")


def speed_against_twin(own: Points, twin: Points) -> list[Finding]:
    """Compare light speed at like voltages; for field-coil motors, whose k has no one value."""
    found = []
    for i in np.flatnonzero(own.light):
        near = np.flatnonzero(
            twin.light & (np.abs(twin.voltage_v / own.voltage_v[i] - 1) < 0.03)  # the same setting
        )
        if near.size == 0:
            continue
        ratio = float(own.rev_per_s[i] / np.mean(twin.rev_per_s[near]))
        if abs(math.log(ratio)) > CHANGED:
            found.append(
                Finding(
                    "speed-differs",
                    f"at {own.voltage_v[i]:g} V it runs {100 * (ratio - 1):+.0f} % off the twin",
                )
            )
    return found


def sentences(found: Sequence[Finding]) -> list[str]:
    """Give the sentences alone."""
    return [f.sentence for f in found]
