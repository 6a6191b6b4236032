"""Small tables that a person typed: named columns, numbers, and a sentence for each slip."""

import csv
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from outshop.bench.readings import quantity
from outshop.errors import InputError, TableError

MOST_ROWS = 5000  # no bench evening gives more; a longer file is another kind of table
MOST_BYTES = 4_000_000  # likewise
_DELIMITERS = (";", "\t", ",")


@dataclass(frozen=True, slots=True)
class SheetRow:
    """One row: its number in the file and its cells by the header's name."""

    number: int
    cells: Mapping[str, str]

    def text(self, name: str) -> str:
        """Give a cell without blanks around it; empty where there is none."""
        return self.cells.get(name, "").strip()

    def number_in(self, name: str, unit: str) -> float | None:
        """Read a number; None for an empty cell.

        Raises
        ------
        TableError
            It is no finite number in that unit.
        """
        text = self.text(name)
        if not text:
            return None
        try:
            value, _ = quantity(text, unit)
        except InputError as problem:
            message = f"row {self.number}, column {name}: {problem}"
            raise TableError(message) from problem
        if not math.isfinite(value):
            message = f"row {self.number}, column {name}: {text!r} is no number"
            raise TableError(message)
        return value


@dataclass(frozen=True, slots=True)
class Sheet:
    """A table: the header's names, lower case, and its rows."""

    names: tuple[str, ...]
    rows: tuple[SheetRow, ...]

    def only(self, candidates: Sequence[str], what: str) -> str | None:
        """Give the one column of several spellings or units that is there; None for none.

        Raises
        ------
        TableError
            More than one is there.
        """
        found = [name for name in candidates if name in self.names]
        if len(found) > 1:
            message = f"the table has {' and '.join(found)}: keep one column for the {what}"
            raise TableError(message)
        return found[0] if found else None


def read_sheet(path: Path) -> Sheet:
    """Read a text table with a header.

    Raises
    ------
    InputError
        It cannot be read.
    TableError
        See :func:`parse_sheet`.
    """
    try:
        with path.open("rb") as handle:
            data = handle.read(MOST_BYTES + 1)  # one more: longer is refused below
    except OSError as problem:
        message = f"{path} cannot be read: {problem.strerror}"
        raise InputError(message) from problem
    return parse_sheet(data)


def parse_sheet(data: bytes) -> Sheet:
    """Read a text table from bytes.

    Parameters
    ----------
    data : bytes
        UTF-8; semicolons, tabs or commas between columns, which the header decides.

    Raises
    ------
    TableError
        No text, no header, no rows, more rows than a person types, a name twice.
    """
    if len(data) > MOST_BYTES:
        message = f"the table is longer than {MOST_BYTES // 1_000_000} MB or {MOST_ROWS} rows: "
        raise TableError(message + "that is no table of bench runs")
    if b"\0" in data:
        raise TableError("this is no text table: save it as CSV, UTF-8")
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        raise TableError("the table is not UTF-8 text: save it as UTF-8") from problem
    lines = [(n, line) for n, line in enumerate(text.splitlines(), 1) if line.strip()]
    if not lines:
        raise TableError("the table is empty: it needs a header and one row at least")
    if len(lines) - 1 > MOST_ROWS:
        message = f"the table is longer than {MOST_ROWS} rows: that is no table of bench runs"
        raise TableError(message)
    delimiter = next((d for d in _DELIMITERS if d in lines[0][1]), ",")
    names = tuple(_plain(cell) for cell in _split(lines[0], delimiter))
    if len(set(names)) != len(names):
        raise TableError(f"a column name stands twice in the header {lines[0][1].strip()[:60]!r}")
    if all(re.fullmatch(r"[-+\d.,eE]*", name) for name in names):
        raise TableError("there is no header: name the columns in the first line")
    rows = tuple(_rows(lines[1:], names, delimiter))
    if not rows:
        raise TableError("the table has a header but no rows")
    return Sheet(names, rows)


def _rows(
    lines: Sequence[tuple[int, str]], names: Sequence[str], delimiter: str
) -> Iterator[SheetRow]:
    for line in lines:
        cells = _split(line, delimiter)
        if len(cells) > len(names):
            message = (
                f"row {line[0]} has {len(cells)} cells under {len(names)} names: if the comma is "
                "the decimal sign, put semicolons between the columns"
            )
            raise TableError(message)
        yield SheetRow(line[0], dict(zip(names, cells, strict=False)))


def _split(line: tuple[int, str], delimiter: str) -> list[str]:
    try:
        return next(csv.reader([line[1]], delimiter=delimiter, strict=True))
    except csv.Error as problem:
        raise TableError(f"row {line[0]}: a quoted cell does not end") from problem


def _plain(name: str) -> str:
    """Write ``Speed [m/s]`` and ``speed (m/s)`` as ``speed_m_s``."""
    return re.sub(r"[^a-z0-9]+", "_", name.casefold()).strip("_")
