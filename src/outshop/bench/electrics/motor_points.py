"""Volts, amps and speed of a motor at several loads, checked before anything is fitted."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from outshop.bench.electrics.table import read_table
from outshop.errors import InputError

Array = NDArray[np.float64]
STALLED_BELOW = 0.05  # 1/s; a hand-held shaft, not a turn in 20 s
VOLTS, AMPS, MOST_REV_PER_S = (0.01, 500.0), (1e-4, 200.0), 5000.0  # our fence against slips
SAME_VOLTAGE = 0.05  # relative; readings meant to be at one voltage


@dataclass(frozen=True, slots=True)
class Points:
    """Readings of a motor, all positive.

    Parameters
    ----------
    voltage_v, current_a, rev_per_s : array, shape (n,)
        At the motor's terminals; a speed of 0 means that the shaft was held.
    warnings : tuple of str
        What was odd about them.
    """

    voltage_v: Array
    current_a: Array
    rev_per_s: Array
    warnings: tuple[str, ...] = ()

    @property
    def stalled(self) -> NDArray[np.bool_]:
        """Which points are stalled, shape (n,)."""
        return np.asarray(self.rev_per_s < STALLED_BELOW)

    @property
    def omega(self) -> Array:
        """Angular speed, rad/s, shape (n,)."""
        return 2 * math.pi * np.where(self.stalled, 0.0, self.rev_per_s)

    @property
    def light(self) -> NDArray[np.bool_]:
        """Running points that no other running point of like voltage undercuts in current."""
        running = ~self.stalled
        light = running.copy()
        for i in np.flatnonzero(running):
            near = running & (np.abs(self.voltage_v / self.voltage_v[i] - 1) < SAME_VOLTAGE)
            # 1.1: two light readings at one voltage differ by a tenth
            light[i] = self.current_a[i] <= 1.1 * float(self.current_a[near].min())
        return light


def read_points(path: Path) -> Points:
    """Read a table with voltage, current and speed (and perhaps torque).

    Raises
    ------
    InputError
        See :func:`points`.
    """
    table = read_table(path, ("voltage", "current", "speed"), ("torque",))
    columns = {key: column.astype(np.float64) for key, column in table.columns.items()}
    torque = columns.get("torque")
    return points(
        columns["voltage"],
        columns["current"],
        columns["speed"],
        None if torque is None else torque,
        warnings=table.warnings,
    )


def points(
    voltage_v: Sequence[float] | Array,
    current_a: Sequence[float] | Array,
    rev_per_s: Sequence[float] | Array,
    torque_nm: Sequence[float] | Array | None = None,
    *,
    warnings: tuple[str, ...] = (),
) -> Points:
    """Check readings and bring both directions of running to positive numbers.

    Raises
    ------
    InputError
        A value is missing or impossible; the sentence names the point.
    """
    volts, amps, speed = (np.asarray(x, dtype=float) for x in (voltage_v, current_a, rev_per_s))
    if not volts.size == amps.size == speed.size:
        message = f"{volts.size} voltages, {amps.size} currents and {speed.size} speeds: not alike"
        raise InputError(message)
    if volts.size == 0:
        message = "no points: give voltage, current and speed, and one point with the shaft held"
        raise InputError(message)
    for number, (v, i, n) in enumerate(zip(volts, amps, speed, strict=True), start=1):
        _check(number, v, i, n)
    if torque_nm is not None:
        _check_power(volts, amps, speed, np.asarray(torque_nm, dtype=float))
    found = Points(np.abs(volts), np.abs(amps), np.abs(speed), warnings)
    rows = np.column_stack((found.voltage_v, found.current_a, found.rev_per_s))
    if len(np.unique(rows, axis=0)) == 1 and volts.size > 1:
        message = (
            f"all {volts.size} points are equal: change the voltage or the load, "
            "and hold the shaft once for 1 to 2 s"
        )
        raise InputError(message)
    _check_against_stall(found)
    return found


def _check(number: int, volts: float, amps: float, speed: float) -> None:
    if not all(map(math.isfinite, (volts, amps, speed))):
        message = f"point {number} holds no numbers"
        raise InputError(message)
    if volts == 0 or amps == 0:
        message = (
            f"point {number} reads {volts:g} V and {amps:g} A: without voltage or current "
            "it says nothing; leave it out"
        )
        raise InputError(message)
    for value, unit, (low, high) in (
        (volts, "V", VOLTS),
        (amps, "A", AMPS),
        (speed, "1/s", (0.0, MOST_REV_PER_S)),
    ):
        if not low <= abs(value) <= high:
            message = (
                f"point {number} reads {value:g} {unit}, outside {low:g} to {high:g} {unit}: "
                "check the unit in the header"
            )
            raise InputError(message)
    if volts * amps < 0:
        message = (
            f"point {number} has {volts:g} V but {amps:g} A: a motor that takes power has both "
            "of one sign; check the leads"
        )
        raise InputError(message)


def _check_power(volts: Array, amps: Array, speed: Array, torque: Array) -> None:
    given, taken = np.abs(volts * amps), np.abs(torque * 2 * math.pi * speed)
    for k in np.flatnonzero(taken > given):
        message = (
            f"point {k + 1} gives {taken[k]:.3g} W out of {given[k]:.3g} W in: "
            "check its torque and speed"
        )
        raise InputError(message)


def _check_against_stall(found: Points) -> None:
    """Refuse a running point that draws as much as a held motor would at its voltage."""
    if not found.stalled.any():
        return
    resistance = found.voltage_v[found.stalled] / found.current_a[found.stalled]
    least = float(resistance.min())
    for k in np.flatnonzero(~found.stalled):
        if found.voltage_v[k] <= found.current_a[k] * least:
            message = (
                f"point {k + 1} draws {found.current_a[k]:g} A while running on "
                f"{found.voltage_v[k]:g} V, more than when held: that would give more power "
                "than it takes; check the row"
            )
            raise InputError(message)
