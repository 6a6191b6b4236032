"""Judge a train by the rules of make-up: met or not, and why."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from outshop.formation.kinds import axles
from outshop.formation.recipes import Recipe, Rule, general_rules, selects
from outshop.formation.scene import Vehicle, Wish

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
    args = rule.args

    def chosen(selectors: Sequence[str]) -> list[bool]:
        return [any(selects(s, v, wish) for s in selectors) for v in train]

    if rule.test == "axles":
        return sum(axles(v) for v in train) <= args["max"]
    if rule.test in {"same", "mixture"}:
        values = {getattr(v, args["property"]) for v in train} - {None, ""}
        return len(values) <= 1 if rule.test == "same" else len(values) >= args["min"]
    if rule.test == "order":
        return _in_order([chosen(group) for group in args["groups"]], bool(args.get("either_way")))
    found = chosen(args["select"])
    if rule.test == "count":
        return args.get("min", 0) <= sum(found) <= args.get("max", len(train))
    if rule.test == "share":
        whole = sum(chosen(args.get("of", ["any"])))
        least, most = args.get("min_percent", 0), args.get("max_percent", 100)
        return least * whole <= 100 * sum(found) <= most * whole
    if rule.test == "place":
        return _placed(found, args["at"])
    if rule.test == "together":
        return (
            sum(now and not before for before, now in zip([False, *found], found, strict=False))
            <= 1
        )
    return _apart(found, args, chosen)


def _in_order(groups: list[list[bool]], either_way: bool) -> bool:
    ranks = [rank for place in zip(*groups, strict=True) for rank, here in enumerate(place) if here]
    return ranks == sorted(ranks) or (either_way and ranks == sorted(ranks, reverse=True))


def _placed(found: list[bool], at: str) -> bool:
    head = found.index(False) if False in found else len(found)
    tail = found[::-1].index(False) if False in found else len(found)
    if at == "first":
        return sum(found) == head
    if at == "last":
        return sum(found) == tail
    if at == "ends":
        return sum(found) <= head + tail
    if at == "not-first":
        return not (found and found[0])
    return not (found and found[-1])


def _apart(found: list[bool], args: Any, chosen: Any) -> bool:
    between = args["between"]
    if args.get("away_from") == "locomotive":
        return not any(found[:between])
    others = chosen(args["away_from"]) if "away_from" in args else found
    return not any(
        a and b and i != j and abs(i - j) <= between
        for i, a in enumerate(found)
        for j, b in enumerate(others)
    )
