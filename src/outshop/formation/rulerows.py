"""Rules of make-up as demands on the choice alone: what the bounds can use.

Order and places are left out; what stays is necessary, so a bound with these rows is still one.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from outshop.formation.kinds import axles
from outshop.formation.recipes import Rule, selects
from outshop.formation.rules import WEIGHTS
from outshop.formation.task import Task

Row = tuple[NDArray[np.float64], float]  # row @ uses <= limit


def rows_of(task: Task, rules: Sequence[Rule]) -> list[Row]:
    """Give the rows of all rules given, taken as kept."""
    found: list[Row] = []
    for rule in rules:
        found += _rows(task, rule)
    return found


def best_score(task: Task, rules: Sequence[Rule]) -> tuple[float, tuple[Rule, ...]]:
    """Bound the score: rules that the shelf alone makes impossible cannot be met.

    Returns
    -------
    float
        Upper bound of the score, 0 to 100.
    tuple of Rule
        The rules that every train with that score keeps.
    """
    kept = tuple(rule for rule in rules if not _hopeless(task, rule))
    total = sum(WEIGHTS[r.strength] for r in rules)
    return (100.0 * sum(WEIGHTS[r.strength] for r in kept) / total if total else 100.0), kept


def _chosen(task: Task, selectors: Sequence[str]) -> NDArray[np.float64]:
    wish = task.scene.wish
    return np.array([float(any(selects(s, v, wish) for s in selectors)) for v in task.vehicles])


def _rows(task: Task, rule: Rule) -> list[Row]:
    args = rule.args
    if rule.test == "axles":
        return [(np.array([float(axles(v)) for v in task.vehicles]), float(args["max"]))]
    if rule.test == "count":
        found = _chosen(task, args["select"])
        rows = [(found, float(args["max"]))] if "max" in args else []
        return [*rows, (-found, -float(args["min"]))] if "min" in args else rows
    if rule.test == "share":
        found, whole = _chosen(task, args["select"]), _chosen(task, args.get("of", ["any"]))
        most, least = args.get("max_percent", 100) / 100, args.get("min_percent", 0) / 100
        return [(found - most * whole, 0.0), (least * whole - found, 0.0)]
    return []


def _hopeless(task: Task, rule: Rule) -> bool:
    args = rule.args
    if rule.test == "count":
        return bool(_chosen(task, args["select"]).sum() < args.get("min", 0))
    if rule.test == "mixture":
        values = {getattr(v, args["property"]) for v in task.vehicles} - {None, ""}
        return len(values) < int(args.get("min", 0))
    return False
