"""Rules of make-up as demands on the choice alone: what the bounds can use.

Order and places are left out; what stays is necessary, so a bound with these rows is still one.
"""

from collections.abc import Sequence
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from outshop.formation.kinds import axles
from outshop.formation.platform import is_coach
from outshop.formation.recipes import Rule, selects
from outshop.formation.rules import WEIGHTS
from outshop.formation.task import Task, units

MOST_WAYS = 12  # sets of rules looked at one by one

Row = tuple[NDArray[np.float64], float]  # row @ uses <= limit


def rows_of(task: Task, rules: Sequence[Rule], number: int | None = None) -> list[Row]:
    """Give the rows of all rules given, taken as kept.

    With a ``number`` they hold for trains of just so many vehicles: a share is then a whole
    number of vehicles.
    """
    found: list[Row] = []
    if task.platform_units is not None:
        coaches = [float(units(v.length_mm)) * is_coach(v) for v in task.vehicles]
        found.append((np.array(coaches), float(task.platform_units)))
    found += [
        (np.array([-float(v.name == fixed) for v in task.vehicles]), -1.0)
        for fixed in task.scene.wish.fixed
    ]
    for rule in rules:
        found += _rows(task, rule, number)
    return found


def ways_to_meet(rules: Sequence[Rule], lack: int) -> list[tuple[Rule, ...]]:
    """Give the sets of rules that a train keeps whose broken ones weigh just ``lack``.

    Where there are too many of them, one set of what all have in common stands for them all.
    """
    free = [r for r in rules if r.strength != "forbidden"]
    ways = [
        tuple(r for r in rules if r not in broken)
        for number in range(lack + 1)
        for broken in combinations(free, number)
        if sum(WEIGHTS[r.strength] for r in broken) == lack
    ]
    if len(ways) > MOST_WAYS:
        return [tuple(r for r in rules if all(r in way for way in ways))]
    return ways


def possible_rules(task: Task, rules: Sequence[Rule]) -> tuple[Rule, ...]:
    """Give the rules that the shelf alone does not make impossible."""
    return tuple(rule for rule in rules if not _hopeless(task, rule))


def least_number(task: Task, rules: Sequence[Rule]) -> int:
    """Give a number of vehicles that a train keeping the rules has at least.

    Rules that count vehicles of which none is counted by another add up.
    """
    counts = [(int(r.args.get("min", 0)), r) for r in rules if r.test == "count"]
    counted, total = np.zeros(len(task.vehicles)), 0
    for least, rule in sorted(counts, key=lambda pair: -pair[0]):
        named = chosen(task, rule.args["select"])
        if not (named * counted).any():
            counted, total = counted + named, total + least
    mixed = [int(r.args.get("min", 0)) for r in rules if r.test == "mixture"]
    return max([1, total, *mixed])


def chosen(task: Task, selectors: Sequence[str]) -> NDArray[np.float64]:
    """Give 1 for each vehicle that the selectors name, else 0."""
    wish = task.scene.wish
    return np.array([float(any(selects(s, v, wish) for s in selectors)) for v in task.vehicles])


def _rows(task: Task, rule: Rule, number: int | None) -> list[Row]:
    args = rule.args
    if rule.test == "axles":
        return [(np.array([float(axles(v)) for v in task.vehicles]), float(args["max"]))]
    if rule.test == "count":
        found = chosen(task, args["select"])
        rows = [(found, float(args["max"]))] if "max" in args else []
        return [*rows, (-found, -float(args["min"]))] if "min" in args else rows
    if rule.test == "share":
        found, whole = chosen(task, args["select"]), chosen(task, args.get("of", ["any"]))
        most, least = args.get("max_percent", 100) / 100, args.get("min_percent", 0) / 100
        if number is not None and whole.all():
            high = args.get("max_percent", 100) * number // 100
            low = -(-args.get("min_percent", 0) * number // 100)
            return [(found, float(high)), (-found, -float(low))]
        return [(found - most * whole, 0.0), (least * whole - found, 0.0)]
    return []


def _hopeless(task: Task, rule: Rule) -> bool:
    args = rule.args
    if rule.test == "count":
        return bool(chosen(task, args["select"]).sum() < args.get("min", 0))
    if rule.test == "mixture":
        values = {getattr(v, args["property"]) for v in task.vehicles} - {None, ""}
        return len(values) < int(args.get("min", 0))
    return False
