"""Checks at the door of a scene file: each gives a value or one clear sentence."""

import math
from collections.abc import Mapping
from typing import Any

from outshop.errors import TableError
from outshop.formation.scene import Range
from outshop.railway.edtf_years import read_years

SMALLEST_RADIUS_MM = 40.0  # below that not even a tram of the smallest gauges passes
STEEPEST_PERMILLE = 200.0  # adhesion lines end far below; more is a slip of the pen
LONGEST_MM = 10_000_000.0


def number(table: Mapping[str, Any], key: str, where: str, default: float | None = None) -> float:
    """Give a finite number, or the sentence that says which one is missing or wrong."""
    if key not in table:
        if default is None:
            message = f"{where} has no {key}: measure it and write it down as a number"
            raise TableError(message)
        return default
    value = table[key]
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        message = f"{where}: {key} = {value!r} is not a number"
        raise TableError(message)
    return float(value)


def positive(table: Mapping[str, Any], key: str, where: str) -> float:
    """Give a number above zero."""
    value = number(table, key, where)
    if value <= 0 or value > LONGEST_MM:
        message = f"{where}: {key} = {value:g} cannot be; it must be above 0"
        raise TableError(message)
    return value


def not_negative(table: Mapping[str, Any], key: str, where: str, default: float = 0.0) -> float:
    """Give a number that is zero or more."""
    value = number(table, key, where, default)
    if value < 0:
        message = f"{where}: {key} = {value:g} cannot be negative"
        raise TableError(message)
    return value


def optional(table: Mapping[str, Any], key: str, where: str) -> float | None:
    """Give a number that is zero or more, or None where the key is absent or "unknown"."""
    if table.get(key, "unknown") == "unknown":
        return None
    return not_negative(table, key, where)


def count(table: Mapping[str, Any], key: str, where: str) -> int | None:
    """Give a whole number of one or more, or None where the key is absent."""
    if key not in table:
        return None
    value = table[key]
    if isinstance(value, bool) or not isinstance(value, int) or value < 1:
        message = f"{where}: {key} = {value!r} must be a whole number from 1 on"
        raise TableError(message)
    return value


def yes_no(table: Mapping[str, Any], key: str, where: str) -> bool | None:
    """Give true or false, or None where the key is absent."""
    value = table.get(key)
    if value is not None and not isinstance(value, bool):
        message = f"{where}: {key} = {value!r} must be true or false"
        raise TableError(message)
    return value


def words(table: Mapping[str, Any], key: str, where: str, default: str = "") -> str:
    """Give a text."""
    value = table.get(key, default)
    if not isinstance(value, str):
        message = f"{where}: {key} = {value!r} must be a text in quotes"
        raise TableError(message)
    return value.strip()


def names(table: Mapping[str, Any], key: str, where: str) -> tuple[str, ...]:
    """Give a list of texts."""
    value = table.get(key, [])
    if not isinstance(value, list) or not all(isinstance(v, str) for v in value):
        message = f"{where}: {key} must be a list of names in quotes"
        raise TableError(message)
    return tuple(value)


def window(table: Mapping[str, Any], key: str, where: str) -> str:
    """Give a window of years in EDTF, checked; an empty text is open at both ends."""
    value = table.get(key, "")
    text = str(value) if isinstance(value, int) and not isinstance(value, bool) else value
    if not isinstance(text, str):
        message = f'{where}: {key} = {value!r} must be years such as "1950/1968"'
        raise TableError(message)
    if text.strip():
        try:
            read_years(text)
        except Exception as problem:
            message = f"{where}: {key}: {problem}"
            raise TableError(message) from problem
    return text.strip()


def couplings(table: Mapping[str, Any], where: str) -> tuple[str, str]:
    """Give front and rear coupling; an empty text stands for unknown."""
    value = table.get("couplings", ["", ""])
    if isinstance(value, str):
        value = [value, value]
    if not isinstance(value, list) or len(value) != 2 or not all(isinstance(v, str) for v in value):
        message = f'{where}: couplings = {value!r} must be two names, ["front", "rear"]'
        raise TableError(message)
    front, rear = (("" if v.strip().lower() == "unknown" else v.strip()) for v in value)
    return front, rear


def rolling(table: Mapping[str, Any], where: str) -> Range | None:
    """Give the rolling resistance with its interval, or None where it is unknown."""
    if table.get("rolling_permille", "unknown") == "unknown":
        return None
    value = not_negative(table, "rolling_permille", where)
    low = not_negative(table, "rolling_low_permille", where, value)
    high = not_negative(table, "rolling_high_permille", where, value)
    if not low <= value <= high:
        message = f"{where}: rolling {value:g} does not lie between its ends {low:g} and {high:g}"
        raise TableError(message)
    return Range(value, low, high)


def grade(table: Mapping[str, Any], where: str) -> float:
    """Give a grade in per mille that an adhesion line can have."""
    value = number(table, "grade_permille", where, 0.0)
    if abs(value) > STEEPEST_PERMILLE:
        message = (
            f"{where}: a grade of {value:g} per mille is steeper than any adhesion line "
            f"({STEEPEST_PERMILLE:g}); 40 per mille is 4 %"
        )
        raise TableError(message)
    return value


def radius(table: Mapping[str, Any], where: str) -> float:
    """Give a radius in mm; 0 is straight."""
    value = number(table, "radius_mm", where, 0.0)
    if value < 0 or 0 < value < SMALLEST_RADIUS_MM:
        message = (
            f"{where}: a radius of {value:g} mm cannot be run through; give it in millimetres "
            f"({SMALLEST_RADIUS_MM:g} or more), or 0 for straight"
        )
        raise TableError(message)
    return value
