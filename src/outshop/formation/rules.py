"""Judge a train by the rules of make-up: met or not, and why."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import chain, compress, count
from typing import Any

from outshop.formation.kinds import axles
from outshop.formation.recipes import Recipe, Rule, general_rules, selects
from outshop.formation.scene import Vehicle, Wish

Numbers = Sequence[int]
Test = Callable[[Numbers], bool]

# What a broken (forbidden, unusual) or a kept rule (typical) counts in the score: our judgement.
WEIGHTS = {"forbidden": 4, "unusual": 2, "typical": 1}


@dataclass(frozen=True, slots=True)
class Judged:
    """One rule held against one train."""

    rule: Rule
    met: bool

    def as_json(self) -> dict[str, Any]:
        """Give the contract's JSON shape."""
        return {
            "rule": self.rule.id,
            "strength": self.rule.strength,
            "met": self.met,
            "why": self.rule.why,
            "source": self.rule.source,
        }


def rules_of(recipe: Recipe | None, wish: Wish) -> tuple[Rule, ...]:
    """Give the rules that apply: the general ones and those of the recipe."""
    always = tuple(r for r in general_rules() if r.applies(wish, wish.line_kind, wish.speed_km_h))
    return always + (recipe.rules_for(wish) if recipe else ())


def judge(rules: Sequence[Rule], train: Sequence[Vehicle], wish: Wish) -> tuple[Judged, ...]:
    """Hold every rule against a train, from the engine backwards."""
    return tuple(Judged(rule, is_met(rule, train, wish)) for rule in rules)


def score(judged: Sequence[Judged]) -> float:
    """Give 100 x weight of the rules met / weight of all rules that apply; 100 without rules."""
    total = sum(WEIGHTS[j.rule.strength] for j in judged)
    met = sum(WEIGHTS[j.rule.strength] for j in judged if j.met)
    return 100.0 * met / total if total else 100.0


def is_met(rule: Rule, train: Sequence[Vehicle], wish: Wish) -> bool:
    """Tell whether a train keeps one rule."""
    return tester(rule, train, wish)(range(len(train)))


def tester(rule: Rule, shelf: Sequence[Vehicle], wish: Wish) -> Test:
    """Give a fast test of one rule for trains written as vehicle numbers of a shelf."""
    args = dict(rule.args)

    def chosen(selectors: Sequence[str]) -> list[bool]:
        return [any(selects(s, v, wish) for s in selectors) for v in shelf]

    if rule.test == "axles":
        return _axles(shelf, int(args["max"]))
    if rule.test in {"same", "mixture"}:
        most = 1 if rule.test == "same" else args.get("max")
        return _values(shelf, args["property"], int(args.get("min", 0)), most)
    if rule.test == "order":
        return _in_order([chosen(g) for g in args["groups"]], bool(args.get("either_way")))
    found = chosen(args["select"])
    if rule.test == "count":
        return _counted(found, int(args.get("min", 0)), args.get("max"))
    if rule.test == "share":
        least, most = int(args.get("min_percent", 0)), int(args.get("max_percent", 100))
        return _share(found, chosen(args.get("of", ["any"])), least, most)
    if rule.test == "place":
        return _placed(found, args["at"])
    if rule.test == "together":
        return _together(found)
    between = int(args["between"])
    if args.get("away_from") == "locomotive":
        return lambda order: not any(found[i] for i in order[:between])
    return _apart(found, chosen(args["away_from"]) if "away_from" in args else found, between)


def shortfall(rule: Rule, shelf: Sequence[Vehicle], wish: Wish) -> Callable[[Numbers], float]:
    """Give how many vehicles stand between a train and keeping a rule: a slope for the search.

    0 for a rule kept, and for rules of which no such number is told.
    """
    args = dict(rule.args)
    if rule.test == "axles":
        numbers = [axles(v) for v in shelf]
        most = int(args["max"])
        return lambda order: max(0, sum(map(numbers.__getitem__, order)) - most) / 2
    if rule.test not in {"count", "share", "place"} or args.get("at", "").startswith("not"):
        return lambda _order: 0.0
    found = [any(selects(s, v, wish) for s in args["select"]) for v in shelf]
    if rule.test == "place":
        return _misplaced(found, args["at"])

    def missing(order: Numbers) -> float:
        number = sum(map(found.__getitem__, order))
        if rule.test == "count":
            least, most = args.get("min", 0), args.get("max", number)
        else:
            least = args.get("min_percent", 0) * len(order) / 100
            most = args.get("max_percent", 100) * len(order) / 100
        return float(max(least - number, number - most, 0))

    return missing


def _misplaced(found: list[bool], at: str) -> Callable[[Numbers], float]:
    def misplaced(order: Numbers) -> float:
        row = [*map(found.__getitem__, order)]
        head = row.index(False) if False in row else len(row)
        tail = row[::-1].index(False) if False in row else len(row)
        return float(max(0, sum(row) - {"first": head, "last": tail, "ends": head + tail}[at]))

    return misplaced


def _always(_order: Numbers) -> bool:
    return True


def _axles(shelf: Sequence[Vehicle], most: int) -> Test:
    numbers = [axles(v) for v in shelf]
    return lambda order: sum(map(numbers.__getitem__, order)) <= most


def _values(shelf: Sequence[Vehicle], name: str, least: int, most: int | None) -> Test:
    values = [getattr(v, name) for v in shelf]
    different = len(set(values) - {None, ""})
    if least == 0 and (most is None or different <= most):
        return _always

    def test(order: Numbers) -> bool:
        shown = len(set(map(values.__getitem__, order)) - {None, ""})
        return least <= shown and (most is None or shown <= most)

    return test


def _counted(found: list[bool], least: int, most: int | None) -> Test:
    def test(order: Numbers) -> bool:
        number = sum(map(found.__getitem__, order))
        return least <= number and (most is None or number <= most)

    return test


def _share(found: list[bool], whole: list[bool], least: int, most: int) -> Test:
    every = all(whole)

    def test(order: Numbers) -> bool:
        part = sum(map(found.__getitem__, order))
        all_of = len(order) if every else sum(map(whole.__getitem__, order))
        return least * all_of <= 100 * part <= most * all_of

    return test


def _together(found: list[bool]) -> Test:
    def test(order: Numbers) -> bool:
        row = [*map(found.__getitem__, order)]
        before = [False, *row]
        return sum(now and not then for then, now in zip(before, row, strict=False)) <= 1

    return test


def _in_order(groups: list[list[bool]], either_way: bool) -> Test:
    ranked = [[r for r, inside in enumerate(row) if inside] for row in zip(*groups, strict=True)]

    def test(order: Numbers) -> bool:
        ranks = [*chain.from_iterable(map(ranked.__getitem__, order))]
        return ranks == sorted(ranks) or (either_way and ranks == sorted(ranks, reverse=True))

    return test


def _placed(found: list[bool], at: str) -> Test:
    def test(order: Numbers) -> bool:
        row = [*map(found.__getitem__, order)]
        if at == "not-first":
            return not (row and row[0])
        if at == "not-last":
            return not (row and row[-1])
        head = row.index(False) if False in row else len(row)
        tail = row[::-1].index(False) if False in row else len(row)
        return sum(row) <= {"first": head, "last": tail, "ends": head + tail}[at]

    return test


def _apart(found: list[bool], others: list[bool], between: int) -> Test:
    def test(order: Numbers) -> bool:
        ones = [*compress(count(), map(found.__getitem__, order))]
        twos = [*compress(count(), map(others.__getitem__, order))] if ones else ones
        return not any(j != k and abs(j - k) <= between for j in ones for k in twos)

    return test


def reason_for(vehicle: Vehicle, judged: Sequence[Judged], wish: Wish) -> str:
    """Give the reason of the strongest kept rule that names a vehicle; empty if none does."""
    named = [
        j.rule
        for j in judged
        if j.met
        and "any" not in j.rule.args.get("select", ["any"])
        and j.rule.args.get("max") != 0
        and any(selects(s, vehicle, wish) for s in j.rule.args["select"])
    ]
    # a rule about this very kind says more than one about its family
    named.sort(key=lambda r: (vehicle.kind not in r.args["select"], -WEIGHTS[r.strength]))
    return named[0].why if named else ""
