"""The years that an EDTF text (ISO 8601-2) may mean, for sorting and searching."""

from datetime import date
from typing import Any

import edtf

from outshop.errors import NotationError

HINT = "write a date such as 1958, 1958-05, 1958~ (about), 195X, 1950/1968 or 1958/.. (and later)"


def years(text: str) -> tuple[int | None, int | None]:
    """Give the first and last year that ``text`` allows; None is an open end.

    Raises
    ------
    NotationError
        It is no EDTF date, or an interval that ends before it begins.
    """
    text = text.strip()
    if "/" in text:
        return _interval(text)
    first, last = _bounds(text, text)
    return first[0], last[0]


def _interval(text: str) -> tuple[int | None, int | None]:
    begin, _, end = (part.strip() for part in text.partition("/"))
    first = None if begin in ("", "..") else _bounds(begin, text)[0]
    last = None if end in ("", "..") else _bounds(end, text)[1]
    if first and last and first > last:
        message = f"{text} ends before it begins: write the earlier date first"
        raise NotationError(message)
    if first is None and last is None:
        message = f"{text!r} leaves both ends open: leave the field empty instead"
        raise NotationError(message)
    return first[0] if first else None, last[0] if last else None


def _bounds(part: str, whole: str) -> tuple[tuple[int, int, int], tuple[int, int, int]]:
    message = f"{whole!r} is not a date: {HINT}"
    try:
        parsed: Any = edtf.parse_edtf(part)
        first, last = parsed.lower_strict()[:3], parsed.upper_strict()[:3]
    except Exception as problem:
        raise NotationError(message) from problem
    if first > last or not _is_real(first) or not _is_real(last):
        raise NotationError(message)
    return tuple(first), tuple(last)


def _is_real(day: tuple[int, int, int]) -> bool:
    """Tell 1958-02-30 from a day; years outside 1 to 9999 pass, for they have no calendar here."""
    if not 1 <= day[0] <= 9999:
        return True
    try:
        date(*day)
    except ValueError:
        return False
    return True
