"""The run-in clock: a programme, what has been run of it, and when to stop.

The clock is a pure function of the marks that were written down (started, paused), so it
survives a reload, a closed laptop and a change to summer time: marks carry their zone and
are compared in UTC.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import pairwise
from typing import Literal

from outshop.errors import InputError

Direction = Literal["forward", "reverse"]

DEFAULT_MINUTES = 10.0  # each way; common practice, no source (published advice: 10 to 60)
DEFAULT_LIMIT_C = 55.0  # a finger cannot stay on it; common practice, no source
CREDIBLE_C = (-20.0, 200.0)  # outside this a reading is a slip of the pen; our judgement
CREDIBLE_A = (0.0, 20.0)  # 10 A is the largest toy transformer (IEC 61558-2-7, from memory)


@dataclass(frozen=True, slots=True)
class Phase:
    """One stretch of the run-in: a direction, a speed in words, and minutes."""

    direction: Direction
    speed: str
    minutes: float

    def __post_init__(self) -> None:
        """Check once, at the door."""
        if self.direction not in {"forward", "reverse"}:
            message = f"a run-in goes forward or reverse; got {self.direction!r}"
            raise InputError(message)
        if not 0 < self.minutes <= 24 * 60:
            message = f"a phase lasts more than 0 and at most 1440 minutes; got {self.minutes}"
            raise InputError(message)


@dataclass(frozen=True, slots=True)
class Limits:
    """When to stop: the highest temperature in °C and current in A; None is no limit."""

    temperature_c: float | None = DEFAULT_LIMIT_C
    current_a: float | None = None


@dataclass(frozen=True, slots=True)
class Programme:
    """The phases in order, with the limits that end it early."""

    phases: tuple[Phase, ...]
    limits: Limits = Limits()

    def __post_init__(self) -> None:
        """Check once, at the door."""
        if not self.phases:
            message = "a run-in needs at least one phase"
            raise InputError(message)

    @property
    def minutes(self) -> float:
        """The whole programme's length in minutes."""
        return sum(phase.minutes for phase in self.phases)


def default_programme(minutes_each_way: float = DEFAULT_MINUTES) -> Programme:
    """Give the usual run-in: low, then moderate speed, each way (common practice).

    Raises
    ------
    InputError
        The minutes are not positive.
    """
    half = minutes_each_way / 2
    ways: tuple[Direction, ...] = ("forward", "reverse")
    return Programme(
        tuple(Phase(way, speed, half) for way in ways for speed in ("low", "moderate"))
    )


@dataclass(frozen=True, slots=True)
class Mark:
    """A stretch of running: started, and paused unless it still runs; zone-aware times."""

    started: datetime
    paused: datetime | None = None

    def __post_init__(self) -> None:
        """Check once, at the door."""
        for moment in (self.started, self.paused):
            if moment is not None and moment.utcoffset() is None:
                message = f"the time {moment.isoformat()} lacks its zone; write it in UTC"
                raise InputError(message)
        # Python compares times of one zone by the clock face, which lies when clocks go back.
        if self.paused is not None and self.paused.astimezone(UTC) < self.started.astimezone(UTC):
            message = (
                f"paused at {self.paused.isoformat()} before started at {self.started.isoformat()}"
            )
            raise InputError(message)


@dataclass(frozen=True, slots=True)
class Progress:
    """Where the run-in stands.

    Parameters
    ----------
    phase_number : int
        Index of the current phase from 0; the last one when all is done.
    phase : Phase
        The current phase.
    phase_elapsed_s, phase_left_s, elapsed_s, left_s : float
        Seconds run and left, of the phase and of the whole.
    running, done : bool
        Whether the clock runs now, and whether the programme is finished.
    turn_next : bool
        Whether the next phase goes the other way.
    warnings : tuple of str
        What is odd about the marks.
    """

    phase_number: int
    phase: Phase
    phase_elapsed_s: float
    phase_left_s: float
    elapsed_s: float
    left_s: float
    running: bool
    done: bool
    turn_next: bool
    warnings: tuple[str, ...] = ()


def progress(programme: Programme, marks: Sequence[Mark], now: datetime) -> Progress:
    """Tell where the programme stands at ``now``.

    Parameters
    ----------
    programme : Programme
        The phases.
    marks : sequence of Mark
        Every start with its pause; at most the last may be open.
    now : datetime
        The present, with its zone.

    Raises
    ------
    InputError
        ``now`` has no zone, or more than one mark is open.
    """
    if now.utcoffset() is None:
        message = f"the time {now.isoformat()} lacks its zone; give it in UTC"
        raise InputError(message)
    spans, warnings = _spans(marks, now)
    running = any(mark.paused is None for mark in marks)
    total = programme.minutes * 60
    elapsed = min(sum((end - start).total_seconds() for start, end in spans), total)
    before = 0.0
    number = 0
    for number, phase in enumerate(programme.phases):
        if elapsed < before + phase.minutes * 60:
            break
        if number < len(programme.phases) - 1:
            before += phase.minutes * 60
    phase = programme.phases[number]
    following = programme.phases[number + 1 : number + 2]
    return Progress(
        phase_number=number,
        phase=phase,
        phase_elapsed_s=elapsed - before,
        phase_left_s=max(before + phase.minutes * 60 - elapsed, 0.0),
        elapsed_s=elapsed,
        left_s=total - elapsed,
        running=running and elapsed < total,
        done=elapsed >= total,
        turn_next=any(p.direction != phase.direction for p in following),
        warnings=warnings,
    )


def ran_minutes(marks: Sequence[Mark], now: datetime) -> float:
    """Give the minutes really run, for the running hours, each moment counted once."""
    spans, _ = _spans(marks, now)
    return sum((end - start).total_seconds() for start, end in spans) / 60


def stop_sign(
    limits: Limits, *, current_a: float | None = None, temperature_c: float | None = None
) -> str | None:
    """Give the sentence that says stop, or None.

    Raises
    ------
    InputError
        A reading cannot be true, such as a temperature of 400 °C.
    """
    _credible(current_a, CREDIBLE_A, "current", "A")
    _credible(temperature_c, CREDIBLE_C, "temperature", "°C")
    reasons = []
    if None not in (temperature_c, limits.temperature_c) and temperature_c > limits.temperature_c:  # type: ignore[operator]  # None is excluded just before
        reasons.append(f"{temperature_c:g} °C is above the limit of {limits.temperature_c:g} °C")
    if None not in (current_a, limits.current_a) and current_a > limits.current_a:  # type: ignore[operator]  # None is excluded just before
        reasons.append(f"{current_a:g} A is above the limit of {limits.current_a:g} A")
    if not reasons:
        return None
    return f"Stop, switch off and let it cool: {' and '.join(reasons)}."


def _credible(value: float | None, bounds: tuple[float, float], name: str, unit: str) -> None:
    if value is not None and not bounds[0] <= value <= bounds[1]:
        message = (
            f"a {name} of {value:g} {unit} cannot be right; "
            f"between {bounds[0]:g} and {bounds[1]:g} {unit} is expected"
        )
        raise InputError(message)


def _spans(
    marks: Sequence[Mark], now: datetime
) -> tuple[list[tuple[datetime, datetime]], tuple[str, ...]]:
    """Turn marks into spans of UTC that do not overlap, with what was odd about them."""
    if sum(mark.paused is None for mark in marks) > 1:
        message = "the run-in was started twice without a pause between; pause it once first"
        raise InputError(message)
    present = now.astimezone(UTC)
    spans = []
    warnings = []
    for mark in marks:
        start = mark.started.astimezone(UTC)
        end = (mark.paused or now).astimezone(UTC)
        if start > present:
            warnings.append("a start lies in the future: the clock of this machine was changed")
        if end > start:
            spans.append((start, end))
    spans.sort()
    if any(later[0] < earlier[1] for earlier, later in pairwise(spans)):
        warnings.append("two stretches overlap; each moment counts once")
    return _merged(spans), tuple(dict.fromkeys(warnings))


def _merged(spans: list[tuple[datetime, datetime]]) -> list[tuple[datetime, datetime]]:
    """Merge sorted spans that overlap."""
    merged: list[tuple[datetime, datetime]] = []
    for start, end in spans:
        if merged and start < merged[-1][1]:
            merged[-1] = (merged[-1][0], max(merged[-1][1], end))
        else:
            merged.append((start, end))
    return merged
