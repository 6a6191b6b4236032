"""The running log: what an entry must be, and which tap is a tap twice."""

import math
from dataclasses import dataclass
from datetime import UTC, datetime

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


def is_double_tap(last: Ran | None, entry: Ran) -> bool:
    """Tell whether this is the last entry tapped again by mistake."""
    if last is None or last.minutes != entry.minutes:
        return False
    apart = abs((entry.at.astimezone(UTC) - last.at.astimezone(UTC)).total_seconds())
    return apart < DOUBLE_TAP_S
