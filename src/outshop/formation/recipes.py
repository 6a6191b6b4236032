"""Kinds of trains as data: which vehicles, in which order, by period and country.

A recipe is one TOML file; a person adds one by writing another. Each rule names its test, its
strength (forbidden, unusual, typical when met), its reason and its source.
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import Any

from outshop.errors import KnowledgeError
from outshop.formation.kinds import family, kinds
from outshop.formation.recipe_shape import check_head, check_when
from outshop.formation.scene import Vehicle, Wish

STRENGTHS = ("forbidden", "unusual", "typical")
PLACES = ("first", "last", "ends", "not-first", "not-last")
SIGNS = (
    "dangerous",
    "foreign",
    "braked",
    "unbraked",
    "loaded",
    "empty",
    "heated",
    "unheated",
    "pool",
    "not-pool",
)
PROPERTIES = ("kind", "built", "country", "length_scale", "livery")

# test -> (arguments it must have, arguments it may have)
TESTS: dict[str, tuple[frozenset[str], frozenset[str]]] = {
    "count": (frozenset({"select"}), frozenset({"min", "max"})),
    "share": (frozenset({"select"}), frozenset({"of", "min_percent", "max_percent"})),
    "axles": (frozenset({"max"}), frozenset()),
    "place": (frozenset({"select", "at"}), frozenset()),
    "order": (frozenset({"groups"}), frozenset({"either_way"})),
    "together": (frozenset({"select"}), frozenset()),
    "apart": (frozenset({"select", "between"}), frozenset({"away_from"})),
    "same": (frozenset({"property"}), frozenset()),
    "mixture": (frozenset({"property"}), frozenset({"min", "max"})),
}
COMMON = frozenset({"id", "test", "strength", "why", "source"})
WHEN = frozenset({"country", "from", "to", "line", "faster_than", "up_to", "months"})
RECIPE_KEYS = frozenset(
    {
        "id",
        "name",
        "country",
        "from",
        "to",
        "line",
        "speed_km_h",
        "kinds",
        "source",
        "about",
        "rule",
    }
)


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule of make-up; ``args`` are the test's own arguments."""

    id: str
    test: str
    strength: str
    why: str
    source: str
    args: Mapping[str, Any]
    when: Mapping[str, Any] = field(default_factory=dict)

    def applies(self, wish: Wish, line_kind: str, speed: float | None) -> bool:
        """Tell whether the rule's own country, years, line, speed and months are met."""
        when = self.when
        if "country" in when and wish.country and wish.country not in when["country"]:
            return False
        if "from" in when and (wish.year is None or wish.year < when["from"]):
            return False
        if "to" in when and (wish.year is None or wish.year > when["to"]):
            return False
        if "line" in when and line_kind != when["line"]:
            return False
        if "faster_than" in when and (speed is None or speed <= when["faster_than"]):
            return False
        if "up_to" in when and (speed is None or speed > when["up_to"]):
            return False
        return "months" not in when or wish.month in when["months"]


@dataclass(frozen=True, slots=True)
class Recipe:
    """A kind of train: the kinds it may hold and its rules."""

    id: str
    name: str
    kinds: tuple[str, ...]
    rules: tuple[Rule, ...]
    country: tuple[str, ...] = ()
    first_year: int = 1
    last_year: int = 9999
    line: str = ""
    speed_km_h: float | None = None
    about: str = ""
    source: str = ""

    def admits(self, vehicle: Vehicle, wish: Wish) -> bool:
        """Tell whether a vehicle's kind may run in this train at all."""
        return not self.kinds or any(selects(s, vehicle, wish) for s in self.kinds)

    def rules_for(self, wish: Wish) -> tuple[Rule, ...]:
        """Give the rules that apply to a year, country, line, speed and month."""
        line = wish.line_kind or self.line
        speed = self.speed_km_h if wish.speed_km_h is None else wish.speed_km_h
        return tuple(rule for rule in self.rules if rule.applies(wish, line, speed))


def selects(selector: str, vehicle: Vehicle, wish: Wish) -> bool:
    """Tell whether ``any``, a kind, ``family:...`` or ``is:...`` names the vehicle."""
    if selector == "any":
        return True
    if selector.startswith("family:"):
        return family(vehicle.kind) == selector.removeprefix("family:")
    if not selector.startswith("is:"):
        return vehicle.kind == selector
    home = wish.country
    signs = {
        "dangerous": vehicle.dangerous,
        "foreign": bool(home and vehicle.country and vehicle.country != home),
        "braked": vehicle.braked is True,
        "unbraked": vehicle.braked is False,
        "loaded": vehicle.loaded is True,
        "empty": vehicle.loaded is False,
        "heated": vehicle.heating is True,
        "unheated": vehicle.heating is False,
        "pool": vehicle.pool is True,
        "not-pool": vehicle.pool is False,
    }
    return signs[selector.removeprefix("is:")]


def read_recipe(text: str, where: str = "the recipe") -> Recipe:
    """Read and check one recipe.

    Raises
    ------
    KnowledgeError
        A key, test, kind, strength or year in it cannot be used; the sentence names the rule.
    """
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        message = f"{where} is not TOML: {problem}"
        raise KnowledgeError(message) from problem
    for key in ("id", "name"):
        if not isinstance(table.get(key), str) or not table[key]:
            message = f'{where} has no {key}: write {key} = "..." at its top'
            raise KnowledgeError(message)
    where = f"recipe {table['id']!r}"
    _only(table, RECIPE_KEYS, where)
    check_head(table, where)
    admitted = tuple(_selectors(table.get("kinds", []), where))
    rules = tuple(_rule(row, where, i) for i, row in enumerate(table.get("rule", []), 1))
    twice = [r.id for r in rules if sum(q.id == r.id for q in rules) > 1]
    if twice:
        message = f"{where} has two rules called {twice[0]!r}: rename one"
        raise KnowledgeError(message)
    return Recipe(
        id=table["id"],
        name=table["name"],
        kinds=admitted,
        rules=rules,
        country=tuple(table.get("country", [])),
        first_year=_whole(table, "from", where, 1),
        last_year=_whole(table, "to", where, 9999),
        line=table.get("line", ""),
        speed_km_h=table.get("speed_km_h"),
        about=table.get("about", ""),
        source=table.get("source", ""),
    )


@lru_cache(maxsize=1)
def shipped() -> dict[str, Recipe]:
    """Give the recipes that come with the program, by id."""
    found = {}
    for entry in sorted(files("outshop.formation").joinpath("recipes").iterdir(), key=str):
        if entry.name.endswith(".toml"):
            recipe = read_recipe(entry.read_text(encoding="utf-8"), entry.name)
            found[recipe.id] = recipe
    return found


def source_of(name: str) -> str:
    """Give the text of a shipped recipe, to copy from.

    Raises
    ------
    KnowledgeError
        There is no such recipe.
    """
    if name not in shipped():
        message = f"there is no shipped recipe {name!r}"
        raise KnowledgeError(message)
    folder = files("outshop.formation").joinpath("recipes")
    return folder.joinpath(f"{name}.toml").read_text(encoding="utf-8")


def added(folder: Path) -> dict[str, Recipe]:
    """Read every recipe in a person's own folder, by id."""
    found = {}
    for path in sorted(folder.glob("*.toml")):
        recipe = read_recipe(path.read_text(encoding="utf-8-sig"), str(path))
        found[recipe.id] = recipe
    return found


def find_recipe(name: str, more: Mapping[str, Recipe] | None = None) -> Recipe:
    """Give a recipe by its id; a person's own go before the shipped ones.

    Raises
    ------
    KnowledgeError
        There is none; the sentence lists those there are.
    """
    table = {**shipped(), **(more or {})}
    if name not in table:
        ids = ", ".join(sorted(k for k in table if k != "general"))
        message = f"there is no recipe {name!r}; there are {ids}"
        raise KnowledgeError(message)
    return table[name]


def general_rules() -> tuple[Rule, ...]:
    """Give the rules that hold for every train."""
    return shipped()["general"].rules


def _rule(row: Mapping[str, Any], recipe: str, number: int) -> Rule:
    where = f"{recipe}, rule {row.get('id', number)!r}"
    for key in sorted(COMMON):
        if not isinstance(row.get(key), str) or not row[key]:
            message = f"{where} has no {key}: every rule needs id, test, strength, why and source"
            raise KnowledgeError(message)
    if row["strength"] not in STRENGTHS:
        message = f"{where}: strength {row['strength']!r} must be one of {', '.join(STRENGTHS)}"
        raise KnowledgeError(message)
    if row["test"] not in TESTS:
        message = f"{where}: there is no test {row['test']!r}; there are {', '.join(TESTS)}"
        raise KnowledgeError(message)
    must, may = TESTS[row["test"]]
    _only(row, COMMON | WHEN | must | may, where)
    check_when(row, where)
    missing = sorted(must - set(row))
    if missing:
        message = f"{where}: the test {row['test']!r} needs {', '.join(missing)}"
        raise KnowledgeError(message)
    args = {key: row[key] for key in must | may if key in row}
    _check_args(args, where)
    for key in ("from", "to"):
        _whole(row, key, where, 0)
    when = {key: row[key] for key in WHEN if key in row and key not in must | may}
    return Rule(row["id"], row["test"], row["strength"], row["why"], row["source"], args, when)


def _check_args(args: Mapping[str, Any], where: str) -> None:
    for key in ("select", "of"):
        if key in args:
            _selectors(args[key], where)
    for group in args.get("groups", []):
        _selectors(group, where)
    if args.get("away_from", "locomotive") != "locomotive":
        _selectors(args["away_from"], where)
    if args.get("at", "first") not in PLACES:
        message = f"{where}: at = {args['at']!r} must be one of {', '.join(PLACES)}"
        raise KnowledgeError(message)
    if args.get("property", "kind") not in PROPERTIES:
        message = f"{where}: property {args['property']!r} must be one of {', '.join(PROPERTIES)}"
        raise KnowledgeError(message)
    for key in ("min", "max", "between", "min_percent", "max_percent"):
        if key in args:
            _whole(args, key, where, 0)


def _selectors(value: Any, where: str) -> list[str]:
    if not isinstance(value, list) or not all(isinstance(v, str) for v in value):
        message = f"{where}: kinds are a list of names in quotes; got {value!r}"
        raise KnowledgeError(message)
    families = {k.family for k in kinds().values()}
    for name in value:
        known = (
            name == "any"
            or name in kinds()
            or (name.startswith("family:") and name.removeprefix("family:") in families)
            or (name.startswith("is:") and name.removeprefix("is:") in SIGNS)
        )
        if not known:
            message = (
                f"{where}: there is no kind {name!r}; kinds are {', '.join(kinds())}, "
                f"or family:{'|'.join(sorted(families))}, or is:{'|'.join(SIGNS)}, or any"
            )
            raise KnowledgeError(message)
    return value


def _whole(table: Mapping[str, Any], key: str, where: str, default: int) -> int:
    value = table.get(key, default)
    if isinstance(value, bool) or not isinstance(value, int) or value < 0:
        message = f"{where}: {key} = {value!r} must be a whole number of 0 or more"
        raise KnowledgeError(message)
    return value


def _only(table: Mapping[str, Any], allowed: frozenset[str], where: str) -> None:
    strange = sorted(set(table) - allowed)
    if strange:
        message = (
            f"{where}: {strange[0]!r} is not known here; known are {', '.join(sorted(allowed))}"
        )
        raise KnowledgeError(message)
