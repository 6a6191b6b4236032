"""The run-in: minutes really run, from what was written down, and when to stop.

What was run is a pure function of the stretches (started, paused), so it survives a reload,
a closed laptop and a change to summer time: times carry their zone and are compared in UTC.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Literal

from outshop.errors import InputError

Direction = Literal["forward", "reverse"]

DEFAULT_MINUTES = 10.0  # each way; common practice, no source (published advice: 10 to 60)
DEFAULT_LIMIT_C = 55.0  # a finger cannot stay on it; common practice, no source
CREDIBLE_C = (-20.0, 200.0)  # outside this a reading is a slip of the pen; our judgement
CREDIBLE_A = (0.0, 20.0)  # 10 A is the largest toy transformer (IEC 61558-2-7, from memory)


@dataclass(frozen=True, slots=True)
class Mark:
    """A stretch of running: started, and paused unless it still runs; zone-aware times."""

    started: datetime
    paused: datetime | None = None

    def __post_init__(self) -> None:
        """Check once, at the door."""
        for moment in (self.started, self.paused):
            if moment is not None:
                _check_zone(moment)


def ran_seconds(marks: Iterable[Mark], now: datetime) -> float:
    """Give the seconds really run, each moment counted once.

    A stretch that ends before it started, because a clock was set back, counts as no time;
    one that still runs ends ``now``.

    Raises
    ------
    InputError
        ``now`` has no zone.
    """
    _check_zone(now)
    spans = sorted(
        (mark.started.astimezone(UTC), (mark.paused or now).astimezone(UTC)) for mark in marks
    )
    total = 0.0
    counted = None
    for start, end in spans:
        begin = start if counted is None else max(start, counted)
        if end > begin:
            total += (end - begin).total_seconds()
            counted = end
    return total


@dataclass(frozen=True, slots=True)
class Limits:
    """When to stop: the highest temperature in °C and current in A; None is no limit."""

    temperature_c: float | None = DEFAULT_LIMIT_C
    current_a: float | None = None


def stop_reason(
    limits: Limits, *, current_a: float | None = None, temperature_c: float | None = None
) -> str:
    """Give why the run must stop, or nothing.

    Raises
    ------
    InputError
        A reading cannot be true, such as a temperature of 400 °C.
    """
    _credible(current_a, CREDIBLE_A, "current", "A")
    _credible(temperature_c, CREDIBLE_C, "temperature", "°C")
    reasons = (
        _above(current_a, limits.current_a, "A"),
        _above(temperature_c, limits.temperature_c, "°C"),
    )
    return " and ".join(filter(None, reasons))


def _above(value: float | None, limit: float | None, unit: str) -> str:
    if value is None or limit is None or value <= limit:
        return ""
    return f"{value:g} {unit} is above the limit of {limit:g} {unit}"


def _credible(value: float | None, bounds: tuple[float, float], name: str, unit: str) -> None:
    if value is not None and not bounds[0] <= value <= bounds[1]:
        message = (
            f"a {name} of {value:g} {unit} cannot be right; "
            f"between {bounds[0]:g} and {bounds[1]:g} {unit} is expected"
        )
        raise InputError(message)


def _check_zone(moment: datetime) -> None:
    if moment.utcoffset() is None:
        message = f"the time {moment.isoformat()} lacks its zone; write it in UTC"
        raise InputError(message)
