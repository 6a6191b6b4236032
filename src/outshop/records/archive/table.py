"""The collection as a table that any spreadsheet opens, and back."""

import csv
import io
from collections.abc import Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction

from outshop.errors import OutshopError, TableError
from outshop.records.models import Edition, Piece
from outshop.records.services.saving import add, sentence

PIECE_COLUMNS = (
    "name",
    "road_number",
    "kind",
    "state",
    "scale",
    "arrangement",
    "length_mm",
    "mass_g",
    "shows",
    "arrived_on",
    "place",
    "notes",
)
EDITION_COLUMNS = {"maker": "maker", "edition": "name", "edition_number": "number"}
COLUMNS = ("uid", *PIECE_COLUMNS, *EDITION_COLUMNS)
# A spreadsheet takes a cell that begins so for a formula (OWASP, "CSV Injection").
LIVE = ("=", "+", "-", "@", "\t", "\r", "\n")
GUARD = "'"
LARGEST = 100_000_000  # characters


def guarded(cell: str) -> str:
    """Make a cell harmless for a spreadsheet: one that begins like a formula gets a guard."""
    return GUARD + cell if cell.startswith((*LIVE, GUARD)) else cell


def bare(cell: str) -> str:
    """Take the guard off again."""
    return cell[1:] if cell.startswith(GUARD) and cell[1:].startswith((*LIVE, GUARD)) else cell


def write_table() -> str:
    """Give the collection as CSV: commas, a heading, one line a piece."""
    text = io.StringIO()
    lines = csv.writer(text, lineterminator="\r\n")  # RFC 4180
    lines.writerow(COLUMNS)
    for piece in Piece.objects.select_related("edition").order_by("pk").iterator(500):
        cells = [str(piece.uid)]
        cells += [_text(getattr(piece, name)) for name in PIECE_COLUMNS]
        cells += [_text(getattr(piece.edition, name, "")) for name in EDITION_COLUMNS.values()]
        lines.writerow([guarded(cell) for cell in cells])
    return text.getvalue()


@transaction.atomic
def read_table(text: str) -> tuple[int, int]:
    """Add the pieces of a CSV; give how many were added, and how many were there already.

    Raises
    ------
    TableError
        A column is unknown, or a cell cannot be used; the sentence names the line.
    """
    lines = _lines(text)
    here = {str(uid) for uid in Piece.objects.values_list("uid", flat=True)}
    added = known = 0
    try:
        for cells in lines:
            if not any(
                value and value.strip() for value in cells.values() if isinstance(value, str)
            ):
                continue
            row = _row(cells, lines.line_num)
            if row.get("uid") in here:
                known += 1
                continue
            _add(row, lines.line_num)
            added += 1
    except csv.Error as problem:
        message = f"line {lines.line_num}: {problem}"
        raise TableError(message) from problem
    return added, known


def _lines(text: str) -> "csv.DictReader[str]":
    if len(text) > LARGEST:
        message = f"the table is too long: {len(text)} characters, at most {LARGEST}"
        raise TableError(message)
    heading = text.lstrip("\ufeff").split("\n", 1)[0]
    if not heading.strip():
        message = "the table is empty: its first line must name the columns, at least name"
        raise TableError(message)
    comma = max(",;\t", key=heading.count)
    lines = csv.DictReader(io.StringIO(text.lstrip("\ufeff"), newline=""), delimiter=comma)
    names = [name.strip().lower() for name in lines.fieldnames or ()]
    strange = [name for name in names if name not in COLUMNS]
    if strange or "name" not in names or len(set(names)) != len(names):
        fault = f"does not know {strange[0]!r}" if strange else "needs each column once, and name"
        message = f"the table {fault}; it knows {', '.join(COLUMNS)}"
        raise TableError(message)
    lines.fieldnames = names
    return lines


def _row(cells: Mapping[Any, Any], line: int) -> dict[str, str]:
    if None in cells or None in cells.values():
        message = f"line {line} has another number of cells than the heading: check its quotes"
        raise TableError(message)
    return {name: bare(value) for name, value in cells.items()}


def _add(row: dict[str, str], line: int) -> None:
    fields: dict[str, Any] = {name: row[name] for name in PIECE_COLUMNS if row.get(name)}
    if uid := row.get("uid"):
        fields["uid"] = uid
    try:
        for name in ("length_mm", "mass_g"):
            if name in fields:
                fields[name] = _number(fields[name], name)
        fields["edition"] = _edition(row)
        add(Piece(**fields))
    except ValidationError as problem:
        message = f"line {line}: {sentence(problem)}"
        raise TableError(message) from problem
    except OutshopError as problem:
        message = f"line {line}: {problem}"
        raise TableError(message) from problem


def _edition(row: Mapping[str, str]) -> Edition | None:
    given = {field: row.get(name, "") for name, field in EDITION_COLUMNS.items()}
    if not any(given.values()):
        return None
    return Edition.objects.filter(**given).first() or add(Edition(**given))


def _number(text: str, name: str) -> float:
    try:
        return float(text.replace(",", "."))
    except ValueError as problem:
        message = f"{name} must be a number; got {text!r}"
        raise TableError(message) from problem


def _text(value: object) -> str:
    return "" if value is None else str(value)
