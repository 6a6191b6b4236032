"""Realised prices as the person typed or imported them; nothing is fetched from anywhere."""

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from outshop.errors import NotationError, TableError
from outshop.market.money import currency, read_amount

COLUMNS = (
    "date",
    "price",
    "currency",
    "edition",
    "condition",
    "box",
    "papers",
    "working",
    "source",
)
GRADES = {  # house scale, 0 to 1; trade words of several countries; common practice, no source
    "mint": 1.0,
    "excellent": 0.85,
    "very good": 0.7,
    "good": 0.55,
    "fair": 0.35,
    "poor": 0.15,
}
# Weight of each part in a condition told part by part: technique twice, looks three times, packing
# once, as one sellers' guide weighs school-type marks; common practice, no source. Others once.
WEIGHTS = {"body": 3.0, "paint": 3.0, "mechanism": 2.0, "motor": 2.0, "wheels": 2.0}
YES = {"yes", "y", "1", "true", "x"}
NO = {"no", "n", "0", "false", ""}
FORMULA = ("=", "+", "-", "@", "\t", "\r")  # first signs that spreadsheets may run


@dataclass(frozen=True, slots=True)
class Comparable:
    """One sale of one piece.

    Parameters
    ----------
    sold : date
    price : Decimal
        In ``code``.
    code : str
        ISO 4217.
    edition : str
    condition : float
        0 (scrap) to 1 (as new).
    parts : tuple of (part, condition)
        Condition part by part, when it was told so.
    box, papers, working : bool
    source : str
    """

    sold: date
    price: Decimal
    code: str
    edition: str
    condition: float
    box: bool
    papers: bool
    working: bool
    source: str = ""
    parts: tuple[tuple[str, float], ...] = ()


def read_comparables(text: str) -> tuple[list[Comparable], list[str]]:
    """Read sales from CSV with a header line.

    Returns
    -------
    sales : list of Comparable
        Each sale once.
    warnings : list of str
        What was left out, and why.

    Raises
    ------
    TableError
        A column is missing or an entry cannot be used; the sentence names line and cure.
    """
    delimiter = (
        ";" if text.partition("\n")[0].count(";") > text.partition("\n")[0].count(",") else ","
    )
    reader = csv.DictReader(io.StringIO(text), delimiter=delimiter)
    missing = [c for c in COLUMNS[:5] if c not in (reader.fieldnames or ())]
    if missing:
        message = (
            f"the first line must name the columns {', '.join(COLUMNS)}; {missing[0]} is missing"
        )
        raise TableError(message)
    sales = [_sale(line, row) for line, row in enumerate(reader, start=2)]
    return drop_repeats(sales)


def drop_repeats(sales: Sequence[Comparable]) -> tuple[list[Comparable], list[str]]:
    """Keep each sale once: same day, price, currency and edition is one sale told twice."""
    seen: dict[tuple[object, ...], Comparable] = {}
    repeats = 0
    for sale in sales:
        key = (sale.sold, sale.price, sale.code, sale.edition.casefold())
        repeats += key in seen
        seen.setdefault(key, sale)
    warnings = []
    if repeats:
        warnings.append(f"{repeats} of {len(sales)} entries tell a sale that is already there")
    return list(seen.values()), warnings


def safe_cell(text: str) -> str:
    """Write a cell so that no spreadsheet runs it as a formula."""
    return "'" + text if text.startswith(FORMULA) else text


def _sale(line: int, row: dict[str, str | None]) -> Comparable:
    cells = {c: (row.get(c) or "").strip() for c in COLUMNS}
    try:
        unit = currency(cells["currency"])
        price = read_amount(cells["price"], unit)
    except NotationError as problem:
        message = f"line {line}: {problem}"
        raise TableError(message) from problem
    if price <= 0:
        message = f"line {line}: a sale needs a price above 0"
        raise TableError(message)
    if not cells["date"]:
        message = f"line {line}: the date is missing; write the day of the sale as 2024-05-31"
        raise TableError(message)
    try:
        sold = date.fromisoformat(cells["date"])
    except ValueError as problem:
        message = f"line {line}: {cells['date']!r} is no day; write it as 2024-05-31"
        raise TableError(message) from problem
    condition, parts = read_condition(cells["condition"], f"line {line}: ")
    return Comparable(
        sold,
        price,
        unit.code,
        cells["edition"],
        condition,
        _yes(line, "box", cells["box"]),
        _yes(line, "papers", cells["papers"]),
        _yes(line, "working", cells["working"]),
        cells["source"],
        parts,
    )


def read_condition(text: str, place: str = "") -> tuple[float, tuple[tuple[str, float], ...]]:
    """Read a condition as one grade, or part by part: ``body good; mechanism fair; box 0.4``.

    Returns
    -------
    condition : float
        0 to 1; of parts their weighted mean.
    parts : tuple of (part, condition)
        Empty for one grade.

    Raises
    ------
    TableError
        A grade is none; ``place`` begins the sentence.
    """
    names = sorted(GRADES, key=len, reverse=True)  # "very good" before "good"
    told = [item.strip() for item in text.split(";") if item.strip()]
    if len(told) < 2 and (" " not in text.strip() or text.strip().lower() in GRADES):
        return _grade(text.strip(), place), ()
    parts = []
    for item in told:
        grade = next((n for n in names if item.lower().endswith(f" {n}")), item.rpartition(" ")[2])
        part = item[: len(item) - len(grade)].strip().lower()
        if not part:
            message = f"{place}condition {item!r} names no part: write body good; box fair"
            raise TableError(message)
        parts.append((part, _grade(grade, place)))
    weights = [WEIGHTS.get(part, 1.0) for part, _ in parts]
    mean = sum(w * c for w, (_, c) in zip(weights, parts, strict=True)) / sum(weights)
    return mean, tuple(parts)


def _grade(text: str, place: str) -> float:
    if text.lower() in GRADES:
        return GRADES[text.lower()]
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = -1.0
    if not 0 <= value <= 1:
        message = (
            f"{place}condition {text!r} must be one of {', '.join(GRADES)} or a number from 0 to 1"
        )
        raise TableError(message)
    return value


def _yes(line: int, column: str, text: str) -> bool:
    if text.lower() in YES:
        return True
    if text.lower() in NO:
        return False
    message = f"line {line}: {column} must be yes or no; got {text!r}"
    raise TableError(message)
