"""The room's own tables: CSV files with a source and an edition in each row."""

import csv
from functools import cache
from importlib.resources import files

from outshop.errors import TableError


@cache
def rows(name: str) -> tuple[dict[str, str], ...]:
    """Read the table ``name`` (without ``.csv``) as one mapping a row.

    Raises
    ------
    TableError
        There is no such table.
    """
    path = files(__name__).joinpath(f"{name}.csv")
    if not path.is_file():
        message = f"there is no railway table {name!r}"
        raise TableError(message)
    return tuple(csv.DictReader(path.read_text(encoding="utf-8").splitlines()))


def number(cell: str) -> float | None:
    """Read a cell: a number, or nothing where the source gives none."""
    return float(cell) if cell else None
