"""Readings of a run-in that a meter or a person logged: a small CSV, read line by line."""

import csv
import io
from dataclasses import dataclass

from outshop.errors import TableError
from outshop.workshop.run_in import CREDIBLE_A, CREDIBLE_C, Direction

COLUMNS = ("minute", "direction", "current_a", "temperature_c", "speed_km_h", "level_db")
BOUNDS = {
    "minute": (0.0, 24 * 60.0),
    "current_a": CREDIBLE_A,
    "temperature_c": CREDIBLE_C,
    "speed_km_h": (0.0, 1000.0),
    "level_db": (-200.0, 200.0),
}
MOST_LINES = 2000  # one a second for half an hour; our choice
WAYS: dict[str, Direction] = {
    "forward": "forward", "f": "forward", "reverse": "reverse", "r": "reverse",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class LoggedReading:
    """One line: the minute of running, both ways together, and what was read then."""

    minute: float
    direction: Direction
    current_a: float | None = None
    temperature_c: float | None = None
    speed_km_h: float | None = None
    level_db: float | None = None


def read_run_in_log(text: str) -> tuple[LoggedReading, ...]:
    """Read the log.

    Parameters
    ----------
    text : str
        CSV with a heading: ``minute``, ``direction`` (``forward`` or ``reverse``) and any of
        ``current_a``, ``temperature_c``, ``speed_km_h``, ``level_db``; commas between the
        columns, or semicolons, then with decimal commas allowed.

    Raises
    ------
    TableError
        A column is unknown or missing, a cell is no number, cannot be true, or there are no
        or too many lines; the sentence names the line.
    """
    plain = text.lstrip("\ufeff").strip()
    first = plain.splitlines()[0] if plain else ""
    separator = ";" if ";" in first else "\t" if "\t" in first else ","
    try:
        lines = list(csv.reader(io.StringIO(plain), delimiter=separator, strict=True))
    except csv.Error as problem:
        message = f"the log cannot be read as CSV: {problem}"
        raise TableError(message) from problem
    if len(lines) < 2:
        message = f"the log needs a heading and at least one line; headings are {_names(COLUMNS)}"
        raise TableError(message)
    if len(lines) - 1 > MOST_LINES:
        message = f"the log has {len(lines) - 1} lines; at most {MOST_LINES} are taken at once"
        raise TableError(message)
    heading = [name.strip().lower() for name in lines[0]]
    _check_heading(heading)
    readings = []
    for number, cells in enumerate(lines[1:], start=2):
        if any(cell.strip() for cell in cells):
            readings.append(_reading(dict(zip(heading, cells, strict=False)), number))
    return tuple(readings)


def _check_heading(heading: list[str]) -> None:
    strange = [name for name in heading if name not in COLUMNS]
    if strange:
        message = f"the log has a column {strange[0]!r}; known are {_names(COLUMNS)}"
        raise TableError(message)
    for wanted in ("minute", "direction"):
        if heading.count(wanted) != 1:
            message = f"the log needs one column {wanted!r}; its columns are {_names(heading)}"
            raise TableError(message)
    if len(heading) != len(set(heading)):
        message = f"a column stands twice in the log: {_names(heading)}"
        raise TableError(message)


def _reading(cells: dict[str, str], number: int) -> LoggedReading:
    way = WAYS.get(cells.get("direction", "").strip().lower())
    if way is None:
        message = f"line {number}: the direction must be forward or reverse"
        raise TableError(message)
    values = {name: _number(cells[name], name, number) for name in BOUNDS if name in cells}
    minute = values.pop("minute", None)
    if minute is None:
        message = f"line {number}: the minute is missing"
        raise TableError(message)
    if all(value is None for value in values.values()):
        message = f"line {number}: there is no reading in it"
        raise TableError(message)
    return LoggedReading(minute, way, **values)


def _number(cell: str, name: str, number: int) -> float | None:
    plain = cell.strip().replace(",", ".")
    if not plain:
        return None
    low, high = BOUNDS[name]
    try:
        value = float(plain)
    except ValueError as problem:
        message = f"line {number}: {name} {cell.strip()[:30]!r} is not a number"
        raise TableError(message) from problem
    if not low <= value <= high:
        message = f"line {number}: {name} of {plain} cannot be right; {low:g} to {high:g} can"
        raise TableError(message)
    return value


def _names(names: tuple[str, ...] | list[str]) -> str:
    return ", ".join(names)
