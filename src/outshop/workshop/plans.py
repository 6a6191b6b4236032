"""Strip-down plans by construction, to be adapted in minutes to the model at hand."""

from collections.abc import Iterable, Mapping
from dataclasses import asdict, replace
from functools import cache
from typing import Any

from outshop.errors import InputError, MissingError, TableError
from outshop.workshop._load import table
from outshop.workshop.strip_down import Removal, StripPlan

# The five constructions of the trade; "general" is for a model nothing is known of.
CONSTRUCTIONS = ("general", "tank-steam", "tender-steam", "rod-drive", "bogie", "railcar")


@cache
def plan_for(construction: str = "general") -> StripPlan:
    """Give the plan of a construction.

    Raises
    ------
    MissingError
        There is no plan of that name.
    """
    if construction not in CONSTRUCTIONS:
        message = f"no plan is called {construction!r}; choose one of {', '.join(CONSTRUCTIONS)}"
        raise MissingError(message)
    shape = table(f"plans/{construction}")
    blocks = {row["id"]: row for row in table("plans/general")["removal"]}
    own = [_resolved(row, blocks) for row in shape["removal"]]
    mine = {row["id"] for row in own}
    taken = [blocks[name] for name in shape.get("takes", ()) if name not in mine]
    rows = _by_need([*own, *taken])
    return StripPlan(
        shape["name"],
        tuple(removal_from(row) for row in rows),
        {part: tuple(names) for part, names in shape["reach"].items()},
        shape["source"],
    )


def all_plans() -> dict[str, StripPlan]:
    """Give every construction's plan by its key."""
    return {name: plan_for(name) for name in CONSTRUCTIONS}


def removal_from(row: Mapping[str, Any]) -> Removal:
    """Make a removal of a plain row (TOML or JSON).

    Raises
    ------
    TableError
        A key is unknown, or a value is of the wrong kind.
    """
    shape: dict[str, Any] = {
        key: tuple(item) if isinstance(item, list) else item for key, item in row.items()
    }
    try:
        shape["ways"] = tuple(tuple(way) for way in row.get("ways", ()))
        return Removal(**shape)
    except TypeError as problem:
        message = f"this is not a removal: {problem}"
        raise TableError(message) from problem


def plan_as_json(plan: StripPlan) -> dict[str, Any]:
    """Give a plain shape; :func:`plan_from_json` reads it back."""
    return {
        "name": plan.name,
        "removals": [asdict(r) for r in plan.removals],
        "reach": {part: list(names) for part, names in plan.reach.items()},
        "source": plan.source,
    }


def plan_from_json(shape: Mapping[str, Any]) -> StripPlan:
    """Read a plan back.

    Raises
    ------
    InputError
        The shape is not that of a plan, or the plan contradicts itself.
    """
    try:
        return StripPlan(
            str(shape["name"]),
            tuple(removal_from(row) for row in shape["removals"]),
            {str(part): tuple(names) for part, names in shape.get("reach", {}).items()},
            str(shape.get("source", "")),
        )
    except (AttributeError, KeyError, TypeError) as problem:
        message = f"this is not a strip-down plan: {problem}"
        raise InputError(message) from problem


def with_removal(plan: StripPlan, removal: Removal) -> StripPlan:
    """Give the plan with this removal added, or put in the place of the one with its key."""
    if any(r.id == removal.id for r in plan.removals):
        kept = tuple(removal if r.id == removal.id else r for r in plan.removals)
    else:
        kept = (*plan.removals, removal)
    return replace(plan, removals=kept)


def with_reach(plan: StripPlan, name: str, parts: Iterable[str]) -> StripPlan:
    """Give the plan in which this removal is wanted for exactly these parts."""
    wanted = set(parts)
    reach = {}
    for part in dict.fromkeys((*plan.reach, *wanted)):
        names = tuple(n for n in plan.reach.get(part, ()) if n != name)
        reach[part] = (*names, name) if part in wanted else names
    return replace(plan, reach=reach)


def without_removal(plan: StripPlan, name: str) -> StripPlan:
    """Give the plan without a removal; ways and reaches forget it.

    Raises
    ------
    MissingError
        It is not in the plan.
    """
    plan.removal(name)
    kept = tuple(
        replace(
            r,
            ways=tuple(tuple(n for n in way if n != name) for way in r.ways),
            never_with=tuple(n for n in r.never_with if n != name),
        )
        for r in plan.removals
        if r.id != name
    )
    reach = {part: tuple(n for n in names if n != name) for part, names in plan.reach.items()}
    return replace(plan, removals=kept, reach=reach)


def _resolved(row: dict[str, Any], blocks: Mapping[str, dict[str, Any]]) -> dict[str, Any]:
    """Fill a row that is ``like`` a block."""
    own = {key: item for key, item in row.items() if key != "like"}
    return {**blocks[row["like"]], **own} if "like" in row else own


def _by_need(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Show the body first and the rest in the order written; the plan decides what is possible."""
    return sorted(
        rows, key=lambda row: row["id"] not in {"tender", "pantograph", "gangway", "body"}
    )
