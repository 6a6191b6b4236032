"""A sound and a track speed of one run, joined: from the sound bench's JSON to the slip."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from outshop.bench.motion.slip import SlipBench, measure_slip, wheel_diameter
from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable, Reading, reading_from_json

AMBIGUOUS = "ambiguous"  # as the sound bench writes it


@dataclass(frozen=True, slots=True)
class RunSlip:
    """The slip for the likeliest motor speed, and for each other that fits.

    Parameters
    ----------
    bench : SlipBench
        Not measurable while the motor speed is ambiguous.
    alternatives : tuple of (motor speed in 1/s, slip)
        One for each motor speed that fits, only when more than one does.
    warnings : tuple of str
        What a careful reader should know.
    """

    bench: SlipBench
    alternatives: tuple[tuple[float, Reading], ...] = ()
    warnings: tuple[str, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """Give what stands beside the slip."""
        return {
            "alternatives": [
                {"motor_speed": speed, "slip": slip.as_json()} for speed, slip in self.alternatives
            ],
            "warnings": list(self.warnings),
        }


def run_slip(
    heard: Mapping[str, Any],
    track: Reading,
    *,
    wheel_mm: float | None = None,
    wheel_tolerance_mm: float | None = None,
    rolling: bool = False,
) -> RunSlip:
    """Join what was heard with a speed over the track.

    Parameters
    ----------
    heard : mapping
        JSON of the sound bench; its drive gives ratio, teeth and wheel.
    track : Reading
        m/s, of the same run.
    wheel_mm, wheel_tolerance_mm : float, optional
        Instead of the drive's wheel.
    rolling : bool
        Nothing slips: the true ratio is wanted.

    Raises
    ------
    InputError
        The wheel's diameter is not known, or the JSON is another one.
    """
    drive = heard.get("drive") or {}
    diameter = wheel_mm if wheel_mm is not None else drive.get("wheel_diameter_mm")
    if diameter is None:
        raise InputError("the driving wheel's diameter is not known: give it in mm")
    wheel = wheel_diameter(float(diameter), wheel_tolerance_mm)
    motor, turns = _reading(heard, "motor_speed"), _reading(heard, "wheel_speed")
    ratio = drive.get("ratio")
    stages = _stages(drive)
    unsure = str(heard.get("motor_speed_status", "")) == AMBIGUOUS
    others: tuple[tuple[float, Reading], ...] = ()
    if unsure:
        others = _alternatives(heard, motor, turns, wheel, track)
        reason = "more than one motor speed fits the sound: choose the true one first"
        motor, turns = NotMeasurable(reason, "1/s"), NotMeasurable(reason, "1/s")
    bench = measure_slip(
        turns, wheel, track, motor=motor, rolling=rolling, stages=stages,
        given_ratio=None if ratio is None else float(ratio),
    )  # fmt: skip
    return RunSlip(bench, others, tuple(_warnings(heard, drive)))


def _alternatives(
    heard: Mapping[str, Any], motor: Reading, turns: Reading, wheel: Estimate, track: Reading
) -> tuple[tuple[float, Reading], ...]:
    if not isinstance(motor, Estimate) or not isinstance(turns, Estimate) or motor.value <= 0:
        return ()
    speeds = dict.fromkeys([motor.value, *map(float, heard.get("alternatives", ()))])
    return tuple(
        (speed, measure_slip(turns * (speed / motor.value), wheel, track).slip)
        for speed in speeds
    )  # fmt: skip


def _reading(heard: Mapping[str, Any], key: str) -> Reading:
    shape = heard.get(key)
    if not isinstance(shape, Mapping):
        message = f"the sound's result has no {key.replace('_', ' ')}: is it one of 'bench sound'?"
        raise InputError(message)
    return reading_from_json(shape)


def _stages(drive: Mapping[str, Any]) -> Sequence[tuple[int, int]]:
    """Give the counted teeth of a drive's JSON."""
    stages = drive.get("stages") or ()
    return [(int(stage["driver_teeth"]), int(stage["driven_teeth"])) for stage in stages]


def _warnings(heard: Mapping[str, Any], drive: Mapping[str, Any]) -> list[str]:
    if isinstance(heard.get("inferred_ratio"), Mapping) and drive.get("ratio") is None:
        return ["the drive's ratio is not known: without it the sound gives no wheel speed"]
    return []
