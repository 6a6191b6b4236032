"""Reversing unit worked by an overvoltage pulse, against NEM 640 (1988).

The supply must drive at 16 V rms at most and reverse with 24 V for 0.1 to 3 s. Transformers
stay closed: an unknown or damaged one is not measured but replaced, and repair of mains
equipment is for licensed persons.
"""

import math
from dataclasses import dataclass
from typing import Any

from outshop.bench.electrics.motor_verdict import Finding
from outshop.errors import InputError
from outshop.railway.supply import NEM640_PULSE_S, NEM640_PULSE_V, NEM640_RMS_V

MOST_BELIEVABLE_V = 60.0  # above it a reading is a slip, or the supply a danger
SUPPLY_SLACK = 0.95  # a loaded transformer sags by some percent (common practice)


@dataclass(frozen=True, slots=True)
class ReversingBench:
    """A reversing unit judged.

    Parameters
    ----------
    findings : tuple of Finding
        ``stuck``, ``early``, ``late``, ``slow``, ``hasty``, ``holds``, ``supply-low``, ``good``.
    margin_low_v, margin_high_v : float or None
        Pull-in voltage above the driving voltage, and below the pulse.
    """

    findings: tuple[Finding, ...]
    margin_low_v: float | None
    margin_high_v: float | None

    def as_json(self) -> dict[str, Any]:
        """Give the JSON shape."""
        return {
            "findings": [f.id for f in self.findings],
            "verdict": [f.sentence for f in self.findings],
            "margin_low_v": self.margin_low_v,
            "margin_high_v": self.margin_high_v,
            "limits": {
                "drive_v": NEM640_RMS_V,
                "pulse_v": NEM640_PULSE_V,
                "pulse_s": list(NEM640_PULSE_S),
                "source": "NEM 640 (1988)",
            },
        }


def judge(
    *,
    pull_in_v: float | None,
    release_v: float | None = None,
    delay_s: float | None = None,
    supply_pulse_v: float | None = None,
    highest_drive_v: float = NEM640_RMS_V,
) -> ReversingBench:
    """Judge a reversing unit.

    Parameters
    ----------
    pull_in_v : float or None
        Voltage at which it throws, rms V; None if it does not throw at the full pulse.
    release_v : float, optional
        Voltage at which it falls back, rms V.
    delay_s : float, optional
        From the pulse to the throw, s.
    supply_pulse_v : float, optional
        Pulse that the supply gives at the rails under load, rms V.
    highest_drive_v : float
        Highest driving voltage used, rms V.

    Raises
    ------
    InputError
        A voltage or time that cannot be.
    """
    for name, value in (
        ("pull-in voltage", pull_in_v),
        ("release voltage", release_v),
        ("pulse of the supply", supply_pulse_v),
        ("highest driving voltage", highest_drive_v),
    ):
        if value is not None and not (math.isfinite(value) and 0 < value <= MOST_BELIEVABLE_V):
            message = f"a {name} of {value:g} V is not believable: use 0 to 60 V rms"
            raise InputError(message)
    if delay_s is not None and not (math.isfinite(delay_s) and delay_s >= 0):
        message = f"a delay cannot be {delay_s:g} s"
        raise InputError(message)
    if pull_in_v is not None and release_v is not None and release_v >= pull_in_v:
        message = f"it cannot release at {release_v:g} V and pull in only at {pull_in_v:g} V"
        raise InputError(message)
    found = _supply(supply_pulse_v)
    found += _throw(pull_in_v, supply_pulse_v, highest_drive_v)
    if release_v is not None and release_v <= 1.0:  # sticks by magnetism: our own limit
        found.append(Finding("holds", "falls back only near 0 V: weak spring or magnetised"))
    found += _delay(delay_s)
    if not found:
        found = [Finding("good", "within NEM 640")]
    return ReversingBench(
        tuple(found),
        None if pull_in_v is None else pull_in_v - highest_drive_v,
        None if pull_in_v is None else (supply_pulse_v or NEM640_PULSE_V) - pull_in_v,
    )


def _supply(pulse_v: float | None) -> list[Finding]:
    if pulse_v is None or pulse_v >= SUPPLY_SLACK * NEM640_PULSE_V:
        return []
    return [
        Finding(
            "supply-low",
            f"the supply gives a pulse of {pulse_v:g} V where NEM 640 wants {NEM640_PULSE_V:g} V: "
            "try another approved supply before touching the engine",
        )
    ]


def _throw(pull_in_v: float | None, pulse_v: float | None, drive_v: float) -> list[Finding]:
    if pull_in_v is None:
        return [
            Finding(
                "stuck",
                "does not throw: free and clean the slide, look at its coil and joints",
            )
        ]
    if pull_in_v <= drive_v:
        return [
            Finding(
                "early",
                f"throws at {pull_in_v:g} V, within the driving range up to {drive_v:g} V: "
                "stretch or renew the spring",
            )
        ]
    if pull_in_v > (pulse_v or NEM640_PULSE_V):
        return [
            Finding(
                "late",
                f"needs {pull_in_v:g} V, more than the pulse of {pulse_v or NEM640_PULSE_V:g} V: "
                "stiff slide, spring too strong, or a bad joint at the coil",
            )
        ]
    return []


def _delay(delay_s: float | None) -> list[Finding]:
    low, high = NEM640_PULSE_S
    if delay_s is None:
        return []
    if delay_s > high:
        return [Finding("slow", f"throws after {delay_s:g} s, the pulse lasts {high:g} s at most")]
    if delay_s > low:
        return [
            Finding("slow", f"throws after {delay_s:g} s: a pulse of {low:g} s would be too short")
        ]
    return []
