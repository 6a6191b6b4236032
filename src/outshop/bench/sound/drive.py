"""The drive: what is known of poles, gear stages and wheels, and the orders it must make.

An *order* is a frequency counted in turns of the motor: order 6 sounds six times a motor turn.
"""

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from math import prod
from typing import Any

from outshop.errors import NotationError, TableError
from outshop.estimate import Estimate
from outshop.railway import scales

KNOWN_KEYS = ("name", "scale", "wheel_diameter_mm", "armature_poles", "ratio", "stages")
STAGE_KEYS = ("driver_teeth", "driven_teeth", "name")
RATIO_TOLERANCE = 0.01  # a counted ratio is often written with two digits; ours, no source


@dataclass(frozen=True, slots=True)
class Stage:
    """One gear mesh, from the motor outwards; a worm has ``driver_teeth`` = its starts."""

    driver_teeth: int
    driven_teeth: int

    @property
    def is_worm(self) -> bool:
        """Whether the driver has so few teeth that it must be a worm (spur pinions have 6+)."""
        return self.driver_teeth <= 4  # worms with one to four starts: the trade's usual, no source


@dataclass(frozen=True, slots=True)
class Drive:
    """What is known of a drive; every part may be missing.

    Parameters
    ----------
    poles : int or None
        Armature poles (commutator segments).
    stages : tuple of Stage
        Gear stages from the motor outwards; empty when not known.
    ratio : float or None
        Motor turns for one wheel turn; from the stages when they are given.
    wheel_diameter_mm, scale : float or None
        Tread diameter in mm; the scale's ratio (87 for 1:87).
    """

    poles: int | None = None
    stages: tuple[Stage, ...] = ()
    ratio: float | None = None
    wheel_diameter_mm: float | None = None
    scale: float | None = None

    @property
    def knows_motor(self) -> bool:
        """Whether something fixes the motor's orders (poles or teeth)."""
        return self.poles is not None or bool(self.stages)

    def wheel_rate(self, motor: Estimate) -> Estimate | None:
        """Wheel turns a second for a motor speed in 1/s; None without a ratio."""
        return None if self.ratio is None else motor / self.ratio

    def kmh_per_motor_rate(self) -> float | None:
        """Scale km/h for one motor turn a second; None when ratio, wheel or scale is missing."""
        if self.ratio is None or self.wheel_diameter_mm is None or self.scale is None:
            return None
        metres_per_turn = math.pi * self.wheel_diameter_mm / 1000 / self.ratio
        return metres_per_turn * self.scale * 3.6

    def as_json(self) -> dict[str, Any]:
        """Give the keys of a drive file."""
        shape = {
            "scale": self.scale,
            "wheel_diameter_mm": self.wheel_diameter_mm,
            "armature_poles": self.poles,
            "ratio": self.ratio,
        }
        known: dict[str, Any] = {key: value for key, value in shape.items() if value is not None}
        if self.stages:
            known["stages"] = [
                {"driver_teeth": s.driver_teeth, "driven_teeth": s.driven_teeth}
                for s in self.stages
            ]
        return known


def commutation_order(poles: int) -> int:
    """Commutations in one motor turn: twice the poles if odd, the poles if even.

    Two brushes half a turn apart switch in turn when the segments are odd in number, together
    when they are even. Source for odd numbers: Precision Microdrives, "Using DC motor
    commutation spikes to measure motor speed"; for 5 segments also catalogue D757, figure 5.
    """
    return 2 * poles if poles % 2 else poles


def read_drive(toml_text: str) -> Drive:
    """Read a drive file.

    Raises
    ------
    TableError
        The text is no TOML, a key is unknown, a number is missing, not positive or absurd, or
        the ratio contradicts the stages.
    """
    try:
        table = tomllib.loads(toml_text)
    except tomllib.TOMLDecodeError as problem:
        message = f"the drive file is no TOML: {problem}"
        raise TableError(message) from problem
    return drive_from_table(table)


def drive_from_table(table: Mapping[str, Any]) -> Drive:
    """Build a drive from the keys of a drive file; see :func:`read_drive` for errors."""
    _only_known(table, KNOWN_KEYS, "the drive")
    poles = _whole(table, "armature_poles", 2, 60)
    wheel = _positive(table, "wheel_diameter_mm", 200.0)
    stages = _stages(table.get("stages", []))
    ratio = _positive(table, "ratio", 100_000.0)
    counted = prod(s.driven_teeth / s.driver_teeth for s in stages) if stages else None
    if ratio and counted and abs(ratio / counted - 1) > RATIO_TOLERANCE:
        message = (
            f"the ratio {ratio:g} contradicts the stages, whose teeth give {counted:.4g}: "
            "correct one of them or leave the ratio out"
        )
        raise TableError(message)
    return Drive(poles, stages, counted or ratio, wheel, _scale(table.get("scale")))


def _only_known(table: Mapping[str, Any], known: tuple[str, ...], where: str) -> None:
    strange = [key for key in table if key not in known]
    if strange:
        near = get_close_matches(strange[0], known, 1)
        hint = f" (did you mean {near[0]}?)" if near else ""
        message = (
            f"{where} has unknown keys {', '.join(strange)}{hint}: known are {', '.join(known)}"
        )
        raise TableError(message)


def _number(table: Mapping[str, Any], key: str) -> float | None:
    value = table.get(key)
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        message = f"{key} must be a number; got {value!r}"
        raise TableError(message)
    return float(value)


def _positive(table: Mapping[str, Any], key: str, most: float) -> float | None:
    value = _number(table, key)
    if value is not None and not 0 < value <= most:
        message = f"{key} must be above 0 and at most {most:g}; got {value:g}"
        raise TableError(message)
    return value


def _whole(table: Mapping[str, Any], key: str, least: int, most: int) -> int | None:
    value = _number(table, key)
    if value is None:
        return None
    if value != int(value) or not least <= value <= most:
        message = f"{key} must be a whole number from {least} to {most}; got {value:g}"
        raise TableError(message)
    return int(value)


def _stages(entries: Any) -> tuple[Stage, ...]:
    if not isinstance(entries, list):
        message = f"stages must be a list of tables [[stages]]; got {entries!r}"
        raise TableError(message)
    if len(entries) > 12:  # more meshes than any clockwork; guards the order list
        message = f"a drive has at most 12 stages here; got {len(entries)}"
        raise TableError(message)
    return tuple(_stage(entry, i) for i, entry in enumerate(entries, 1))


def _stage(entry: Any, number: int) -> Stage:
    where = f"stage {number}"
    if not isinstance(entry, Mapping):
        message = f"{where} must be a table with driver_teeth and driven_teeth; got {entry!r}"
        raise TableError(message)
    _only_known(entry, STAGE_KEYS, where)
    teeth = []
    for key in STAGE_KEYS[:2]:
        try:
            count = _whole(entry, key, 1, 1000)
        except TableError as problem:
            message = f"{where}: {problem}"
            raise TableError(message) from problem
        if count is None:
            message = f"{where} lacks {key}: count the teeth (a worm counts its starts)"
            raise TableError(message)
        teeth.append(count)
    return Stage(*teeth)


def _scale(value: Any) -> float | None:
    if value is None:
        return None
    if isinstance(value, str):
        try:
            return scales.scale(value).ratio
        except NotationError as problem:
            message = f"scale: {problem}"
            raise TableError(message) from problem
    return _positive({"scale": value}, "scale", 2000.0)
