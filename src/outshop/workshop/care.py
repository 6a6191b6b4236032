"""What falls due: by running hours, by age, whichever comes first."""

import calendar
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cache
from typing import Literal

from outshop.errors import InputError, MissingError
from outshop.workshop._load import table

SOON_DAYS = 30  # a rule due within this many days is shown as soon; our choice
SOON_SHARE = 0.9  # or when this share of its hours is used up; our choice
DAYS_A_MONTH = 30.44  # 365.25 / 12

State = Literal["due", "soon", "later", "no start"]


@dataclass(frozen=True, slots=True)
class CareRule:
    """One thing that falls due again and again.

    Parameters
    ----------
    id, title, text : str
        Its key, its name, and what to do.
    every_hours, every_months : float or None
        Whichever passes first; at least one must be given.
    task : str
        The workshop's task that does it, or empty.
    part : str
        A model without this part has no such care; empty applies to all.
    states : tuple of str
        Piece states it applies to; empty is all.
    castings_from, castings_to : int or None
        Years of make that the rule is for.
    counts_running : bool
        Whether any run counts as doing it.
    source : str
        Where the interval comes from.

    Raises
    ------
    InputError
        There is no interval, or it is not positive.
    """

    id: str
    title: str
    text: str = ""
    every_hours: float | None = None
    every_months: float | None = None
    task: str = ""
    part: str = ""
    states: tuple[str, ...] = ()
    castings_from: int | None = None
    castings_to: int | None = None
    counts_running: bool = False
    source: str = ""

    def __post_init__(self) -> None:
        """Check once, at the door."""
        if self.every_hours is None and self.every_months is None:
            message = f"the care “{self.title}” has no interval; give hours, months or both"
            raise InputError(message)
        for what, number in (("hours", self.every_hours), ("months", self.every_months)):
            if number is not None and not (math.isfinite(number) and 0 < number <= 10_000):
                message = f"the care “{self.title}” cannot fall due every {number:g} {what}"
                raise InputError(message)

    def applies(
        self, *, without: Iterable[str] = (), state: str = "", made: int | None = None
    ) -> bool:
        """Tell whether a piece needs it: parts it lacks, its state, its year of make."""
        if self.part and self.part in set(without):
            return False
        if self.states and state not in self.states:
            return False
        if made is None:
            return True
        return (self.castings_from or made) <= made <= (self.castings_to or made)


@dataclass(frozen=True, slots=True)
class Due:
    """When a rule falls due for one piece.

    Parameters
    ----------
    rule : CareRule
        Which rule.
    state : str
        ``due``, ``soon``, ``later`` or ``no start`` (never done and no start known).
    day : date or None
        By age, or by the hours at the present pace, whichever is sooner.
    hours_left : float or None
        Running hours left; negative when overdue.
    reason : str
        Why, in a few words.
    """

    rule: CareRule
    state: State
    day: date | None
    hours_left: float | None
    reason: str


@cache
def care_rules() -> tuple[CareRule, ...]:
    """Give the rules to start with."""
    rows = table("care")["rule"]
    return tuple(CareRule(**{**row, "states": tuple(row.get("states", ()))}) for row in rows)


def care_rule(name: str) -> CareRule:
    """Give one rule by its id.

    Raises
    ------
    MissingError
        There is none.
    """
    for known in care_rules():
        if known.id == name:
            return known
    names = ", ".join(known.id for known in care_rules())
    message = f"no care is called {name!r}; known are {names}"
    raise MissingError(message)


def due(
    rule: CareRule,
    *,
    today: date,
    since: date | None,
    hours_since: float = 0.0,
    hours_per_month: float = 0.0,
) -> Due:
    """Tell when a rule falls due.

    Parameters
    ----------
    rule : CareRule
        Which.
    today : date
        The present day.
    since : date or None
        When it was last done, or when the piece arrived; None when neither is known.
    hours_since : float
        Running hours since then.
    hours_per_month : float
        Present pace, to foresee the day by hours.

    Raises
    ------
    InputError
        Hours are negative.
    """
    for number in (hours_since, hours_per_month):
        if not (math.isfinite(number) and number >= 0):
            message = f"running hours cannot be {number:g}"
            raise InputError(message)
    hours_left = None if rule.every_hours is None else rule.every_hours - hours_since
    if since is None and hours_left is None:
        return Due(rule, "no start", None, None, "never noted; look once and note it")
    days: list[tuple[date, str]] = []
    if rule.every_months is not None and since is not None:
        days.append((add_months(since, rule.every_months), "by age"))
    if hours_left is not None:
        by_hours = _day_by_hours(today, hours_left, hours_per_month)
        if by_hours:
            days.append((by_hours, "by hours"))
    day, reason = min(days, default=(None, "by hours, not run lately"))
    if (day is not None and day <= today) or (hours_left is not None and hours_left <= 0):
        return Due(rule, "due", day, hours_left, reason)
    near = day is not None and day <= today + timedelta(days=SOON_DAYS)
    used_up = rule.every_hours is not None and hours_since >= SOON_SHARE * rule.every_hours
    state: State = "soon" if near or used_up else "later"
    return Due(rule, state, day, hours_left, reason)


def in_order(items: Iterable[Due]) -> tuple[Due, ...]:
    """Order by urgency: due, soon, never noted, later; then by day."""
    rank: Sequence[State] = ("due", "soon", "no start", "later")
    return tuple(
        sorted(items, key=lambda d: (rank.index(d.state), d.day or date.max, d.rule.title))
    )


def add_months(day: date, months: float) -> date:
    """Add months, the day clamped to the month's end; a fraction counts in days."""
    whole = int(months)
    index = day.year * 12 + day.month - 1 + whole
    year, month = divmod(index, 12)
    if year > date.max.year - 1:
        return date.max
    last = calendar.monthrange(year, month + 1)[1]
    landed = date(year, month + 1, min(day.day, last))
    return landed + timedelta(days=round((months - whole) * DAYS_A_MONTH))


def _day_by_hours(today: date, hours_left: float, hours_per_month: float) -> date | None:
    """Foresee the day on which the hours are used up at the present pace."""
    if hours_left <= 0:
        return today
    if hours_per_month <= 0:
        return None
    days = hours_left / hours_per_month * DAYS_A_MONTH
    return today + timedelta(days=round(days)) if days < 36_525 else None
