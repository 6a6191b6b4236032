"""Read the numbers of a meter's table fast, whatever its delimiter and decimal sign.

Blocks of plain numbers go through numpy; only a block that it refuses is read row by row,
so that a stray word costs little and is counted, while five million rows take about a second.
"""

import csv
import io
import re
import warnings
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

from outshop.bench.electrics.clock import clock_seconds, is_clock
from outshop.bench.electrics.columns import LOOK_FOR_HEADER_IN, Layout, find_layout
from outshop.bench.readings import quantity
from outshop.errors import InputError, TableError

BLOCK_BYTES = 1 << 23  # large enough for numpy, small beside the arrays
MOST_BAD_SHARE = 0.05  # above it, it is another kind of file rather than a log with remarks
HEAD_BYTES = 1 << 16
_UNITS = {"time": "s", "current": "A", "voltage": "V", "speed": "1/s", "torque": "N·m"}

Array = NDArray[np.floating]


@dataclass(frozen=True, slots=True)
class Table:
    """The wanted columns in base units, and what was odd about the file.

    Parameters
    ----------
    columns : dict of str to array, shape (n,)
        Readings in s (double), A, V, 1/s or N·m (single precision: meters show 4 to 6 digits).
    skipped : int
        Rows that held no usable numbers.
    warnings : tuple of str
        Plain sentences.
    """

    columns: dict[str, Array]
    skipped: int
    warnings: tuple[str, ...]


def read_table(path: Path, needed: Sequence[str], optional: Sequence[str] = ()) -> Table:
    """Read a table with a header; see :mod:`columns` for the words it may hold.

    Raises
    ------
    TableError
        No header, no rows, too many rows without numbers, or units at odds.
    """
    try:
        with path.open("rb") as handle:
            return _read(handle, needed, optional)
    except OSError as problem:
        message = f"{path} cannot be read: {problem.strerror}"
        raise InputError(message) from problem


def _read(handle: BinaryIO, needed: Sequence[str], optional: Sequence[str]) -> Table:
    head = _decode(handle.read(HEAD_BYTES))
    lines = head.splitlines()
    layout = find_layout(lines, needed, optional)
    rows = [r for r in lines[layout.header_line + 1 : LOOK_FOR_HEADER_IN] if r.strip()]
    if not rows:
        message = "the table has a header but no readings"
        raise TableError(message)
    reader = _Reader(layout, rows)
    handle.seek(0)
    parts: dict[str, list[Array]] = {key: [] for key in layout.columns}
    for text in _blocks(handle, layout.header_line + 1):
        for key, values in zip(layout.columns, reader.block(text), strict=True):
            parts[key].append(values.astype(np.float64 if key == "time" else np.float32))
    reader.refuse_if_mostly_bad(sum(map(len, parts[next(iter(parts))])))
    # pop: the blocks of a column go as soon as it is joined
    columns = {key: np.concatenate(parts.pop(key)) for key in layout.columns}
    return Table(columns, reader.skipped, (*layout.warnings, *reader.remarks()))


def _decode(raw: bytes) -> str:
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        message = "the table is UTF-16 text: save it as UTF-8 and try again"
        raise TableError(message)
    if b"\0" in raw:
        message = "this is no text table: export the log as CSV"
        raise TableError(message)
    try:
        return raw.removeprefix(b"\xef\xbb\xbf").decode("utf-8")
    except UnicodeDecodeError:
        return raw.decode("latin-1")  # header signs such as µ from older loggers; digits agree


def _blocks(handle: BinaryIO, skip_lines: int) -> Iterator[str]:
    """Yield whole lines in blocks, behind the header."""
    for _ in range(skip_lines):
        handle.readline()
    rest = b""
    while chunk := handle.read(BLOCK_BYTES):
        cut = chunk.rfind(b"\n") + 1
        if cut == 0 and len(rest) > 4 * BLOCK_BYTES:
            message = "a line of the table is longer than 30 MB: export the log with line ends"
            raise TableError(message)
        if cut:
            yield _decode(rest + chunk[:cut])
            rest = chunk[cut:]
        else:
            rest += chunk
    if rest.strip():
        yield _decode(rest)


class _Reader:
    """Turn text blocks into arrays of shape (columns, rows) in base units."""

    def __init__(self, layout: Layout, rows: Sequence[str]) -> None:
        self.layout = layout
        _refuse_ambiguous_commas(layout, rows)
        first = _cells(rows[0], layout.delimiter)
        time = layout.columns.get("time")
        self.clock = time is not None and len(first) > time.index and is_clock(first[time.index])
        self.first_bad = ""
        self.skipped = 0

    def block(self, text: str) -> Array:
        """Read one block by the fastest way that takes it."""
        if not self.clock and '"' not in text:
            # where the comma is no delimiter it is the decimal sign
            plain = text if self.layout.delimiter == "," else text.replace(",", ".")
            for way in (self._all_numbers, self._wanted_numbers):
                values = way(plain)
                if values is not None and np.all(np.isfinite(values)):
                    factors = [c.factor for c in self.layout.columns.values()]
                    return np.asarray(values * np.array(factors)[:, None])
        return self._row_by_row(text)

    def _all_numbers(self, text: str) -> Array | None:
        """Read a block in which every cell of every row is a number."""
        raw = text.replace("\r", "").encode().rstrip(b"\n") + b"\n"
        delimiter = self.layout.delimiter.encode()
        data = np.frombuffer(raw, dtype=np.uint8)
        signs = data[(data == delimiter[0]) | (data == ord("\n"))]
        width = int(np.argmax(signs == ord("\n"))) + 1
        ends = signs.reshape(-1, width) == ord("\n") if signs.size % width == 0 else None
        if ends is None or not ends[:, -1].all() or ends[:, :-1].any():
            return None
        with warnings.catch_warnings():
            warnings.simplefilter("error", DeprecationWarning)
            try:
                joined = raw[:-1].translate(bytes.maketrans(delimiter + b"\n", b",,"))
                values = np.fromstring(joined, sep=",")
            except (DeprecationWarning, ValueError):
                return None
        if values.size != signs.size:
            return None
        indices = [c.index for c in self.layout.columns.values()]
        return values.reshape(-1, width).T[indices] if max(indices) < width else None

    def _wanted_numbers(self, text: str) -> Array | None:
        """Read a block with text in columns that are not wanted."""
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", UserWarning)  # a block may hold no rows
            try:
                values = np.loadtxt(
                    io.StringIO(text),
                    delimiter=self.layout.delimiter,
                    usecols=[c.index for c in self.layout.columns.values()],
                    ndmin=2,
                    comments=None,
                    unpack=True,
                )
            except (ValueError, IndexError):
                return None
        return values if values.size else None

    def _row_by_row(self, text: str) -> Array:
        found = []
        for line in text.splitlines():
            if not line.strip():
                continue
            try:
                found.append(self._row(line))
            except InputError as problem:
                self.skipped += 1
                self.first_bad = self.first_bad or f"{line.strip()[:60]!r} ({problem})"
        if not found:
            return np.empty((len(self.layout.columns), 0))
        return np.array(found, dtype=np.float64).T

    def _row(self, line: str) -> list[float]:
        cells = _cells(line, self.layout.delimiter)
        values = []
        for key, column in self.layout.columns.items():
            if column.index >= len(cells):
                message = "cells are missing"
                raise TableError(message)
            cell = cells[column.index].strip()
            if key == "time" and self.clock:
                values.append(clock_seconds(cell))
                continue
            values.append(self._value(cell, key))
        return values

    def _value(self, cell: str, key: str) -> float:
        if not cell:
            message = f"the {key} is missing"
            raise TableError(message)
        value, unit = quantity(cell, _UNITS[key])
        if not np.isfinite(value):
            message = f"the {key} reads {cell}"
            raise TableError(message)
        column = self.layout.columns[key]
        if unit and column.unit_given and column.factor != 1 and key != "time":
            message = f"the header and the cell {cell!r} both name a unit of {key}"
            raise TableError(message)
        return value if unit else value * column.factor

    def refuse_if_mostly_bad(self, good: int) -> None:
        """Raise if too few rows could be read."""
        if self.skipped > MOST_BAD_SHARE * (good + self.skipped):
            message = (
                f"{self.skipped} of {good + self.skipped} rows hold no readings, "
                f"first {self.first_bad}: correct or remove them"
            )
            raise TableError(message)

    def remarks(self) -> tuple[str, ...]:
        """Say how many rows were left out."""
        if not self.skipped:
            return ()
        return (f"{self.skipped} rows without readings left out, first {self.first_bad}",)


def _cells(line: str, delimiter: str) -> list[str]:
    if '"' not in line:
        return line.split(delimiter)
    try:
        return next(csv.reader([line], delimiter=delimiter))
    except csv.Error as problem:
        message = f"a quoted cell does not end: {line[:40]!r}"
        raise TableError(message) from problem


def _refuse_ambiguous_commas(layout: Layout, rows: Sequence[str]) -> None:
    """Raise where the comma seems to be both delimiter and decimal sign."""
    if layout.delimiter != ",":
        return
    width = len(_cells(rows[0], ","))
    last = max(c.index for c in layout.columns.values())
    integers = all(re.fullmatch(r'[\s\d,+"-]*', row) for row in rows)
    if '"' not in rows[0] and width >= 2 * (last + 1) and integers:
        message = (
            f"{rows[0].strip()[:40]!r} uses the comma both between columns and in numbers: "
            "save the table with semicolons"
        )
        raise TableError(message)
