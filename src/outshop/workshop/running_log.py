"""The running log: hours of a piece, how fast they grow, and who needs a turn next."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from outshop.errors import InputError

LONGEST_MINUTES = 24 * 60.0  # one entry; more is a slip of the finger
DOUBLE_TAP_S = 20.0  # the same minutes again within this time is one tap; our choice


@dataclass(frozen=True, slots=True)
class Ran:
    """One entry: when it was written down, with its zone, and how many minutes it ran."""

    at: datetime
    minutes: float

    def __post_init__(self) -> None:
        """Check once, at the door."""
        if self.at.utcoffset() is None:
            message = f"the time {self.at.isoformat()} lacks its zone; write it in UTC"
            raise InputError(message)
        check_minutes(self.minutes)


def check_minutes(minutes: float) -> float:
    """Give the minutes back when they can be true.

    Raises
    ------
    InputError
        They are not above 0, or more than a day.
    """
    if not (math.isfinite(minutes) and 0 < minutes <= LONGEST_MINUTES):
        message = (
            f"one run lasts more than 0 and at most {LONGEST_MINUTES:g} minutes; got {minutes:g}"
        )
        raise InputError(message)
    return minutes


def hours(entries: Iterable[Ran]) -> float:
    """Add up the running hours."""
    return math.fsum(entry.minutes for entry in entries) / 60


def is_double_tap(last: Ran | None, entry: Ran) -> bool:
    """Tell whether this is the last entry tapped again by mistake."""
    if last is None or last.minutes != entry.minutes:
        return False
    apart = abs((entry.at.astimezone(UTC) - last.at.astimezone(UTC)).total_seconds())
    return apart < DOUBLE_TAP_S


def hours_per_month(entries: Sequence[Ran], today: date, *, months: float = 12) -> float:
    """Give the running hours a month over the last year, or over the log if it is shorter."""
    if not entries:
        return 0.0
    start = today - timedelta(days=months * 30.44)  # mean month: 365.25 / 12 days
    recent = [e for e in entries if start < e.at.astimezone(UTC).date() <= today]
    first = min(e.at.astimezone(UTC).date() for e in entries)
    span = min(max((today - first).days, 30.44), months * 30.44) / 30.44
    return hours(recent) / span


def next_turns(last_ran: Mapping[str, date | None]) -> tuple[str, ...]:
    """Order the pieces by need of exercise: never run first, then the longest at rest."""
    return tuple(
        sorted(
            last_ran,
            key=lambda name: (last_ran[name] is not None, last_ran[name] or date.min, name),
        )
    )
