"""What speaks for which years: evidence and its reading from TOML."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import Any

from outshop.errors import NotationError, TableError
from outshop.railway.edtf_years import YearSet, read_years

ABOUT = ("edition", "prototype")
KNOWN_KEYS = {"what", "window", "trust", "about", "part", "source", "page", "photo", "note"}
LONGEST_RANGE = 10_000  # years; more is a slip of the pen


@dataclass(frozen=True, slots=True)
class Evidence:
    """One feature with the years it allows.

    Parameters
    ----------
    what : str
        The feature, in the person's words.
    window : YearSet
        Years in which it is at home.
    trust : float
        Chance that this evidence is right, between 0 and 1, both excluded.
    about : str
        ``edition`` (when was the model made) or ``prototype`` (which years does it show).
    part : str
        Model, box, tray, leaflet ... that carries the feature; empty when not told.
    source : str
        Where the window comes from.
    text : str
        The window as written.
    """

    what: str
    window: YearSet
    trust: float
    about: str = "edition"
    part: str = ""
    source: str = ""
    text: str = ""


@dataclass(frozen=True, slots=True)
class Case:
    """All evidence on one piece, and the years considered (both included)."""

    first_year: int
    last_year: int
    evidence: tuple[Evidence, ...]
    countries: tuple[str, ...] = ()
    warnings: tuple[str, ...] = field(default=())

    @property
    def years(self) -> range:
        """Years considered."""
        return range(self.first_year, self.last_year + 1)


def read_case(text: str) -> Case:
    """Read an evidence file.

    Parameters
    ----------
    text : str
        TOML with ``first_year``, ``last_year``, optional ``country`` and ``[[evidence]]`` tables.

    Raises
    ------
    TableError
        An entry is missing or cannot be used; the sentence names the entry and the cure.
    """
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        message = f"this is not TOML: {problem}"
        raise TableError(message) from problem
    entries = table.get("evidence", [])
    if not isinstance(entries, list):
        message = "write each evidence as a table of its own: [[evidence]]"
        raise TableError(message)
    country = table.get("country", [])
    countries = [country] if isinstance(country, str) else list(country)
    return make_case(
        entries, table.get("first_year", 1830), table.get("last_year", 2030), map(str, countries)
    )


def make_case(
    entries: list[Mapping[str, Any]],
    first_year: object,
    last_year: object,
    countries: Any = (),
) -> Case:
    """Check plain entries, as read from a file or kept on record, and make a case of them."""
    first, last = _year("first_year", first_year), _year("last_year", last_year)
    if first > last:
        message = f"first_year {first} comes after last_year {last}: turn them round"
        raise TableError(message)
    if last - first >= LONGEST_RANGE:
        message = f"{first} to {last} is more than {LONGEST_RANGE} years: narrow the range"
        raise TableError(message)
    if not entries:
        message = "there is no evidence: add an [[evidence]] with what, window and trust"
        raise TableError(message)
    warnings: list[str] = []
    evidence = tuple(_entry(i, entry, warnings) for i, entry in enumerate(entries))
    for i, item in enumerate(evidence):
        if not any(y in item.window for y in _ends_within(item.window, first, last)):
            message = (
                f"evidence {i} ({item.what}): {item.text} lies entirely outside the years "
                f"{first} to {last}: correct the window or widen first_year and last_year"
            )
            raise TableError(message)
        if item.window.approximate:
            warnings.append(
                f"evidence {i} ({item.what}): {item.text} is taken as written; "
                "if it may be some years off, widen the window"
            )
    return Case(first, last, evidence, tuple(countries), tuple(warnings))


def _ends_within(window: YearSet, first: int, last: int) -> list[int]:
    """Years of the range that lie in the window if any does: each span's clipped first year."""
    return [
        max(first, begin or first)
        for begin, _ in window.spans
        if max(first, begin or first) <= last
    ]


def _year(name: str, value: object) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        message = f"{name} must be a whole year such as 1958; got {value!r}"
        raise TableError(message)
    if value < 1:
        message = f"{name} must be 1 or later; got {value}"
        raise TableError(message)
    return value


def _entry(index: int, entry: object, warnings: list[str]) -> Evidence:
    if not isinstance(entry, Mapping):
        message = f"evidence {index} must be a table with what, window and trust"
        raise TableError(message)
    what = str(entry.get("what", "")).strip() or f"evidence {index}"
    place = f"evidence {index} ({what})"
    for key in entry:
        if key not in KNOWN_KEYS:
            near = get_close_matches(key, KNOWN_KEYS, 1)
            hint = f"; did you mean {near[0]}?" if near else ""
            warnings.append(f"{place}: {key} is not used{hint}")
    about = entry.get("about", "edition")
    if about not in ABOUT:
        message = f"{place}: about must be edition or prototype; got {about!r}"
        raise TableError(message)
    text = str(entry.get("window", ""))  # TOML dates and bare years are welcome too
    try:
        window = read_years(text)
    except NotationError as problem:
        message = f"{place}: {problem}"
        raise TableError(message) from problem
    return Evidence(
        what,
        window,
        _trust(place, entry.get("trust")),
        str(about),
        str(entry.get("part", "")),
        str(entry.get("source", "")),
        text,
    )


def _trust(place: str, value: object) -> float:
    if value is None:
        message = f"{place}: say how far to trust it, for example trust = 0.9"
        raise TableError(message)
    if isinstance(value, bool) or not isinstance(value, int | float):
        message = f"{place}: trust must be a number between 0 and 1; got {value!r}"
        raise TableError(message)
    if not 0 < value < 1:
        message = (
            f"{place}: trust must lie between 0 and 1, both excluded, for nothing is certain; "
            f"got {value}"
        )
        raise TableError(message)
    return float(value)
