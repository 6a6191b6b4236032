"""How sure the motor's speed is, in words; an unsure speed never stands as if it were certain."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from outshop.bench.sound.drive import Drive, drive_from_table
from outshop.bench.sound.result import AMBIGUOUS, CONFIDENT, NOT_FOUND
from outshop.errors import OutshopError

# what rests on the motor's speed, and is right only if that speed is
SPEEDS = ("motor_speed", "wheel_speed", "scale_speed")
REST_ON_SPEED = (*SPEEDS, "wheel_turn_modulation", "speed_swing", "squeal", "inferred_ratio")


@dataclass(frozen=True, slots=True)
class Choice:
    """A motor speed (1/s) that fits, with the scale speed (km/h) it means, if known."""

    motor_speed: float
    scale_km_h: float | None


@dataclass(frozen=True, slots=True)
class SpeedStatus:
    """What is known of the speed.

    Parameters
    ----------
    status : str
        ``confident``, ``ambiguous``, ``not_found``, or empty when nothing was measured.
    choices : tuple of Choice
        When ambiguous: the likeliest speed first, then the others.
    reason : str
        When not found: why.
    """

    status: str = ""
    choices: tuple[Choice, ...] = ()
    reason: str = ""

    @property
    def unsure(self) -> bool:
        """Whether a speed was found that may be another."""
        return self.status == AMBIGUOUS

    @property
    def sure(self) -> bool:
        """Whether the speed may stand as it is."""
        return self.status == CONFIDENT

    @property
    def lost(self) -> bool:
        """Whether there is no speed."""
        return self.status == NOT_FOUND

    @property
    def may_choose(self) -> bool:
        """Whether a choice can be told to the bench, which takes scale speeds only."""
        return self.unsure and all(c.scale_km_h is not None for c in self.choices)


def status_of(found: Mapping[str, Any]) -> SpeedStatus:
    """Read the status from a kept sound bench result."""
    status = found.get("motor_speed_status", "")
    motor = found.get("motor_speed") or {}
    if status == NOT_FOUND:
        return SpeedStatus(status, reason=str(motor.get("reason", "")))
    if status != AMBIGUOUS:
        return SpeedStatus(status)
    drive = _drive_of(found)
    factor = drive.kmh_per_motor_rate() if drive else None
    speeds = [motor.get("value"), *found.get("alternatives", [])]
    choices = tuple(Choice(s, s * factor if factor else None) for s in speeds if s)
    return SpeedStatus(status, choices)


def in_short(speed: SpeedStatus) -> str:
    """Say an unsure speed in a few words, for a list."""
    if not speed.unsure:
        return ""
    if speed.may_choose:
        values = [f"{c.scale_km_h:.0f}" for c in speed.choices]
        unit = "km/h"
    else:
        values = [f"{c.motor_speed:.1f}" for c in speed.choices]
        unit = _("motor turns a second")
    if len(values) == 1:
        return _("speed not sure, perhaps %(value)s %(unit)s") % {"value": values[0], "unit": unit}
    text = _("speed not sure: %(values)s or %(last)s %(unit)s")
    return text % {"values": ", ".join(values[:-1]), "last": values[-1], "unit": unit}


def _drive_of(found: Mapping[str, Any]) -> Drive | None:
    try:
        return drive_from_table(found["drive"]) if found.get("drive") else None
    except OutshopError:  # kept by an older release
        return None
