"""The years that an EDTF text (ISO 8601-2:2019) may mean.

Months, days and seasons count as their year. "About" and "uncertain" (``~ ? %``) are kept as a
flag and do not widen anything: ISO 8601-2 gives them no width, so the person widens the window.
"""

import re
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from typing import Any

import edtf

from outshop.errors import NotationError

HINT = (
    "write 1958, 1958-05, 1958~ (about), 195X, 1950/1968, 1958/.. (and later), ../1963 (until), "
    "or [1958,1961] (one of these)"
)
Span = tuple[int | None, int | None]
PLAIN_YEAR = re.compile(r"[0-9]{4}")
FULL_CALENDAR = range(1, 10_000)  # years for which Python knows the days of the months


@dataclass(frozen=True, slots=True)
class YearSet:
    """Years that a date text allows.

    Parameters
    ----------
    spans : tuple of (first, last)
        Years, both included; None is an open end.
    approximate : bool
        The text says "about" or "uncertain".
    """

    spans: tuple[Span, ...]
    approximate: bool = False

    @property
    def first(self) -> int | None:
        """Earliest year, None when open."""
        starts = [span[0] for span in self.spans]
        return None if None in starts else min(s for s in starts if s is not None)

    @property
    def last(self) -> int | None:
        """Latest year, None when open."""
        ends = [span[1] for span in self.spans]
        return None if None in ends else max(e for e in ends if e is not None)

    def __contains__(self, year: int) -> bool:
        return any(
            (first is None or first <= year) and (last is None or year <= last)
            for first, last in self.spans
        )


@lru_cache(maxsize=20_000)
def read_years(text: str) -> YearSet:
    """Read an EDTF date, interval or set.

    Parameters
    ----------
    text : str
        Levels 0 to 2, with years from 1 on.

    Raises
    ------
    NotationError
        It is no EDTF date, ends before it begins, or lies before the year 1.

    Examples
    --------
    >>> read_years("1958/1963").spans
    ((1958, 1963),)
    >>> 1961 in read_years("1958/..")
    True
    """
    stripped = text.strip()
    if not stripped:
        message = f"an empty date says nothing: {HINT}"
        raise NotationError(message)
    approximate = any(sign in stripped for sign in "~?%")
    if stripped[0] in "[{" and stripped[-1] in "]}":
        members = stripped[1:-1].split(",")
        return YearSet(tuple(_member(m.strip(), text) for m in members), approximate)
    if "/" in stripped:
        return YearSet((_interval(stripped, text),), approximate)
    first, last = _days(stripped, text)
    return YearSet(((first[0], last[0]),), approximate)


def _member(member: str, text: str) -> Span:
    if ".." not in member:
        first, last = _days(member, text)
        return first[0], last[0]
    begin, _, end = member.partition("..")
    return _span(begin.strip(), end.strip(), text)


def _interval(stripped: str, text: str) -> Span:
    begin, _, end = (part.strip() for part in stripped.partition("/"))
    # an empty side is "unknown" in EDTF; for dating it limits nothing, just as ".." does
    return _span("" if begin == ".." else begin, "" if end == ".." else end, text)


def _span(begin: str, end: str, text: str) -> Span:
    first = _days(begin, text)[0] if begin else None
    last = _days(end, text)[1] if end else None
    if first and last and first > last:
        message = f"{text!r} ends before it begins: write the earlier date first"
        raise NotationError(message)
    return first[0] if first else None, last[0] if last else None


Day = tuple[int, int, int]


def _days(part: str, text: str) -> tuple[Day, Day]:
    """First and last day that one date may mean."""
    days = _parse(part)
    if days is None:
        message = f"{text!r} is not a date: {HINT}"
        raise NotationError(message)
    if days[0][0] < 1:
        message = f"{text!r} lies before the year 1: give a year from 1 on"
        raise NotationError(message)
    return days


@lru_cache(maxsize=20_000)
def _parse(part: str) -> tuple[Day, Day] | None:
    if PLAIN_YEAR.fullmatch(part):  # by far the most common; the general parser takes 4 ms
        return (int(part), 1, 1), (int(part), 12, 31)
    try:
        parsed: Any = edtf.parse_edtf(part)
        first, last = tuple(parsed.lower_strict()[:3]), tuple(parsed.upper_strict()[:3])
    except Exception:  # noqa: BLE001 - the parser lets errors of several libraries through
        return None
    digits = getattr(parsed, "significant_digits", None)
    if digits:  # 1950S2: the first two digits are known
        width = 10 ** max(0, len(str(first[0])) - int(digits))
        begin = first[0] // width * width
        first, last = (begin, 1, 1), (begin + width - 1, 12, 31)
    return (first, last) if first <= last and _is_day(first) and _is_day(last) else None


def _is_day(day: Day) -> bool:
    if day[0] < 1 or day[0] not in FULL_CALENDAR:
        return True
    try:
        date(*day)
    except ValueError:
        return False
    return True
