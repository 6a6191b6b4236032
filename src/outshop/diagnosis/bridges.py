"""What the other benches found, as signs and measured keys of a case.

Every function takes the bench's own JSON (the contract) and gives what :func:`read_measured`
takes, or signs. What a bench could not measure is left out.
"""

import tomllib
from collections.abc import Iterable, Mapping
from functools import cache
from pathlib import Path
from typing import Any

from outshop.diagnosis.load import SHIPPED

Json = Mapping[str, Any]
Measured = dict[str, Any]

# findings of the motor bench -> signs; the bench's names are on the left
MOTOR_SIGNS = {
    "friction-up": "friction_high",
    "brush-contact": "resistance_high",
    "stall-varies": "current_jumpy",
    "magnet-weak": "motor_constant_low",
    "coil-shorted": "stall_current_high",
    "pick-up": "feed_drop_high",
    "drive-slips": "wheels_lag_motor",
}
MOTOR_CLEARED = {"pick-up-good": "feed_drop_high", "drive-holds": "wheels_lag_motor"}


def from_sound(bench: Json) -> Measured:
    """Take orders and the swelling once in each wheel turn from the sound bench."""
    found: Measured = {}
    _take(found, "wheel_turn_modulation_percent", bench.get("wheel_turn_modulation"))
    for tone in bench.get("steady_tones", ()):
        value = float(tone["prominence_db"])
        found["mains_hum_prominence_db"] = max(value, found.get("mains_hum_prominence_db", value))
    if bench.get("motor_speed_status") != "confident":
        return found  # without the speed no line has a name
    for order in bench.get("orders", ()):
        key = _order_key(str(order["name"]))
        value = order.get("prominence_db")
        if key and value is not None:
            found[key] = max(float(value), found.get(key, float(value)))
    return found


def _order_key(name: str) -> str:
    if name == "motor turn":
        return "motor_once_prominence_db"
    if name == "motor turn ×2":
        return "motor_twice_prominence_db"
    return "mesh_prominence_db" if "mesh" in name else ""


def from_motion(bench: Json) -> Measured:
    """Take the ripple of the speed from the motion bench."""
    found: Measured = {}
    _take(found, "speed_ripple_percent", bench.get("speed_ripple"))
    return found


def from_current(bench: Json) -> Measured:
    """Take the running current from the current bench, when it ran light."""
    found: Measured = {}
    _take(found, "light_current_a", bench.get("running_current"))
    _take(found, "stall_current_a", bench.get("stalled_current"))
    return found


def from_winding(bench: Json) -> Measured:
    """Take the verdict of the winding bench."""
    verdict = bench.get("verdict")
    return {"winding_verdict": verdict} if verdict else {}


def from_wheels(bench: Json) -> Measured:
    """Take how far the back-to-back lies outside the standard, and the run-out."""
    found: Measured = {}
    for check in bench.get("checks", ()):
        if check["name"] == "back_to_back":
            found["back_to_back_error_mm"] = float(check["by_mm"])
    _take(found, "run_out_mm", bench.get("run_out_mm"))
    return found


def from_motor(bench: Json) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Give the signs that the motor bench found, and those it cleared."""
    said = bench.get("findings", ())
    return (
        tuple(MOTOR_SIGNS[name] for name in said if name in MOTOR_SIGNS),
        tuple(MOTOR_CLEARED[name] for name in said if name in MOTOR_CLEARED),
    )


def from_findings(found: Iterable[tuple[str, str]]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Give the signs known from an inspection: pairs of part and state.

    A sign found at one place is found, even if another place was in order.
    """
    table = _finding_signs()
    yes: dict[str, None] = {}
    no: dict[str, None] = {}
    for pair in found:
        signs, cleared = table.get(pair, ((), ()))
        yes.update(dict.fromkeys(signs))
        no.update(dict.fromkeys(cleared))
    return tuple(yes), tuple(sign for sign in no if sign not in yes)


@cache
def _finding_signs() -> dict[tuple[str, str], tuple[tuple[str, ...], tuple[str, ...]]]:
    document = tomllib.loads((Path(SHIPPED) / "findings.toml").read_text(encoding="utf-8"))
    return {
        (row["part"], row["state"]): (tuple(row.get("yes", ())), tuple(row.get("no", ())))
        for row in document["finding"]
    }


def _take(found: Measured, key: str, reading: object) -> None:
    """Keep a reading in the contract's shape if it has a value."""
    if isinstance(reading, Mapping) and reading.get("value") is not None:
        found[key] = {k: reading[k] for k in ("value", "low", "high", "confidence")}
