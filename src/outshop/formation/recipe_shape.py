"""The shape of a recipe's plain entries: texts, numbers and lists, each with its sentence."""

import math
from collections.abc import Mapping
from typing import Any

from outshop.errors import KnowledgeError

TEXTS = ("line", "about", "source")
SPEEDS = ("speed_km_h", "faster_than", "up_to")


def check_head(table: Mapping[str, Any], where: str) -> None:
    """Hold what stands above the rules to its shape.

    Raises
    ------
    KnowledgeError
        An entry is no text, number or list where one is needed.
    """
    for key in TEXTS:
        if not isinstance(table.get(key, ""), str):
            _refuse(where, key, table[key], 'must be a text in quotes, as "branch"')
    check_when(table, where)
    rules = table.get("rule", [])
    if not isinstance(rules, list) or not all(isinstance(row, dict) for row in rules):
        _refuse(where, "rule", rules, "must be written as one [[rule]] for each rule")


def check_when(table: Mapping[str, Any], where: str) -> None:
    """Hold countries, speeds, months and groups to their shape.

    Raises
    ------
    KnowledgeError
        One cannot be used; the sentence says what it must be.
    """
    countries = table.get("country", [])
    if not isinstance(countries, list) or not all(isinstance(c, str) for c in countries):
        _refuse(where, "country", countries, 'must be a list of countries, as ["D", "CH"]')
    for key in SPEEDS:
        speed = table.get(key, 1)
        number = isinstance(speed, int | float) and not isinstance(speed, bool)
        if not number or not math.isfinite(speed) or speed < 0:
            _refuse(where, key, speed, "must be a speed in km/h, as 40")
    months = table.get("months", [])
    if not isinstance(months, list) or not all(m in range(1, 13) for m in months):
        _refuse(where, "months", months, "must be a list of months, as [11, 12, 1]")
    groups = table.get("groups", [])
    if not isinstance(groups, list):
        _refuse(where, "groups", groups, 'must be a list of lists, as [["luggage"], ["coach-2"]]')
    if not isinstance(table.get("line", ""), str):
        _refuse(where, "line", table["line"], 'must be a text in quotes, as "branch"')


def _refuse(where: str, key: str, value: Any, needed: str) -> None:
    message = f"{where}: {key} = {value!r} {needed}"
    raise KnowledgeError(message)
