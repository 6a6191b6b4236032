"""The rules of make-up as constraints of the train model."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from outshop.formation.kinds import axles
from outshop.formation.recipes import Rule, selects
from outshop.formation.rules import WEIGHTS
from outshop.formation.sequence import TrainModel

Row = list[Any]  # for each place, an expression that is 1 when a chosen vehicle stands there


def add_rules(built: TrainModel, rules: Sequence[Rule], loose: frozenset[str] = frozenset()) -> Any:
    """Add rules: forbidden ones hold, the others may be broken; an empty train meets none.

    Parameters
    ----------
    built : TrainModel
        The model.
    rules : sequence of Rule
        The rules that apply.
    loose : frozenset of str
        Ids of forbidden rules that may be broken all the same (to find out why nothing fits).

    Returns
    -------
    linear expression
        Weight of the rules met.
    """
    met: list[tuple[int, Any]] = []
    for rule in rules:
        kept = built.model.new_bool_var(f"rule_{rule.id}")
        TESTS[rule.test](built, rule.args, kept)
        if rule.strength == "forbidden" and rule.id not in loose:
            built.model.add(kept == built.filled)
        built.model.add_implication(kept, built.filled)
        met.append((WEIGHTS[rule.strength], kept))
    return sum(weight * kept for weight, kept in met)


def row_of(built: TrainModel, selectors: Sequence[str]) -> Row:
    """Give, for each place, whether a vehicle named by the selectors stands there."""
    wish = built.task.scene.wish
    chosen = [
        g
        for g, members in enumerate(built.groups)
        if any(selects(s, members[0], wish) for s in selectors)
    ]
    return [sum(x for g in chosen for x in built.here(g, k)) for k in range(built.places)]


def _count(built: TrainModel, args: Mapping[str, Any], kept: Any) -> None:
    found = sum(row_of(built, args["select"]))
    if "min" in args:
        built.model.add(found >= args["min"]).only_enforce_if(kept)
    if "max" in args:
        built.model.add(found <= args["max"]).only_enforce_if(kept)


def _share(built: TrainModel, args: Mapping[str, Any], kept: Any) -> None:
    found = sum(row_of(built, args["select"]))
    whole = sum(row_of(built, args.get("of", ["any"])))
    built.model.add(100 * found >= args.get("min_percent", 0) * whole).only_enforce_if(kept)
    built.model.add(100 * found <= args.get("max_percent", 100) * whole).only_enforce_if(kept)


def _axles(built: TrainModel, args: Mapping[str, Any], kept: Any) -> None:
    total = sum(axles(built.groups[g][0]) * x for (g, _, _), x in built.at.items())
    built.model.add(total <= args["max"]).only_enforce_if(kept)


def _place(built: TrainModel, args: Mapping[str, Any], kept: Any) -> None:
    model, row, last = built.model, row_of(built, args["select"]), built.places - 1
    at = args["at"]
    if at == "not-first":
        model.add(row[0] == 0).only_enforce_if(kept)
        return
    head = [model.new_bool_var("") for _ in row]
    tail = [model.new_bool_var("") for _ in row]
    for k, here in enumerate(row):
        following = built.used[k + 1] if k < last else 0
        if at == "not-last":
            model.add(following >= here).only_enforce_if(kept)
            continue
        model.add(head[k] <= here)
        model.add(tail[k] <= here)
        if k:
            model.add(head[k] <= head[k - 1])
        if k < last:
            model.add(tail[k] + following <= 1 + tail[k + 1])
        ends = {"first": head[k], "last": tail[k], "ends": head[k] + tail[k]}[at]
        model.add(here <= ends).only_enforce_if(kept)


def _order(built: TrainModel, args: Mapping[str, Any], kept: Any) -> None:
    model, groups = built.model, args["groups"]
    rows = [row_of(built, group) for group in groups]
    forward = model.new_bool_var("")
    backward = model.new_bool_var("")
    if args.get("either_way"):
        model.add_bool_or(forward, backward, kept.negated())
    else:
        model.add_implication(kept, forward)
    for way, sign in ((forward, 1), (backward, -1)):
        if sign < 0 and not args.get("either_way"):
            continue
        level: Any = None
        for k in range(built.places):
            now = model.new_int_var(0, len(groups) - 1, "")
            if level is not None:
                model.add(sign * now >= sign * level)
            for rank, row in enumerate(rows):
                # here and this way: the level is the rank
                model.add(now - rank <= len(groups) * (2 - row[k] - way))
                model.add(rank - now <= len(groups) * (2 - row[k] - way))
            level = now


def _together(built: TrainModel, args: Mapping[str, Any], kept: Any) -> None:
    model, row = built.model, row_of(built, args["select"])
    starts = []
    for k, here in enumerate(row):
        begin = model.new_bool_var("")
        model.add(begin >= here - (row[k - 1] if k else 0))
        starts.append(begin)
    model.add(sum(starts) <= 1).only_enforce_if(kept)


def _apart(built: TrainModel, args: Mapping[str, Any], kept: Any) -> None:
    model, row, between = built.model, row_of(built, args["select"]), args["between"]
    if args.get("away_from") == "locomotive":
        model.add(sum(row[:between]) == 0).only_enforce_if(kept)
        return
    others = row_of(built, args["away_from"]) if "away_from" in args else row
    for i, one in enumerate(row):
        for j, other in enumerate(others):
            if i != j and abs(i - j) <= between:
                model.add(one + other <= 1).only_enforce_if(kept)


def _values(built: TrainModel, name: str) -> list[Any]:
    """Give one variable for each value of a property, true when a vehicle shows it."""
    shown = []
    values = {getattr(members[0], name) for members in built.groups} - {None, ""}
    for value in sorted(values, key=str):
        seen = built.model.new_bool_var("")
        every = [
            x for (g, _, _), x in built.at.items() if getattr(built.groups[g][0], name) == value
        ]
        built.model.add_max_equality(seen, every)
        shown.append(seen)
    return shown


def _same(built: TrainModel, args: Mapping[str, Any], kept: Any) -> None:
    built.model.add(sum(_values(built, args["property"])) <= 1).only_enforce_if(kept)


def _mixture(built: TrainModel, args: Mapping[str, Any], kept: Any) -> None:
    shown = sum(_values(built, args["property"]))
    if "min" in args:
        built.model.add(shown >= args["min"]).only_enforce_if(kept)
    if "max" in args:
        built.model.add(shown <= args["max"]).only_enforce_if(kept)


TESTS: dict[str, Callable[[TrainModel, Mapping[str, Any], Any], None]] = {
    "count": _count,
    "share": _share,
    "axles": _axles,
    "place": _place,
    "order": _order,
    "together": _together,
    "apart": _apart,
    "same": _same,
    "mixture": _mixture,
}
