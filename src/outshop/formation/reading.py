"""Read a scene file (TOML) into a :class:`~outshop.formation.scene.Scene`, checked."""

import tomllib
from collections.abc import Mapping
from typing import Any

from outshop.errors import TableError
from outshop.formation import checks
from outshop.formation.kinds import kinds
from outshop.formation.scene import (
    CURVE_CONSTANT,
    Body,
    Locomotive,
    Prototype,
    Scene,
    Section,
    Vehicle,
    Wish,
)


def read_scene(text: str) -> Scene:
    """Read a scene.

    Parameters
    ----------
    text : str
        TOML with ``[[line]]``, ``[locomotive]``, ``[[vehicle]]`` and the wish at the top level.

    Raises
    ------
    TableError
        An entry cannot be used; the sentence names it.
    """
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        message = f"the scene is not TOML: {problem}"
        raise TableError(message) from problem
    line = tuple(_section(row, i) for i, row in enumerate(_rows(table, "line"), 1))
    if not line:
        message = "the line has no sections: add a [[line]] with length_mm for each"
        raise TableError(message)
    locomotive = _locomotive(table)
    vehicles = tuple(_vehicle(row, i) for i, row in enumerate(_rows(table, "vehicle"), 1))
    return Scene(
        line=line,
        locomotive=locomotive,
        vehicles=vehicles,
        wish=_wish(table),
        curve_constant=checks.not_negative(table, "curve_constant", "the scene", CURVE_CONSTANT),
        curve_spread=checks.not_negative(table, "curve_constant_spread", "the scene"),
        gauge_mm=checks.number(table, "gauge_mm", "the scene", 16.5),
        supply_a=checks.optional(table, "supply_a", "the scene"),
        start_factor=max(1.0, checks.number(table, "start_factor", "the scene", 1.5)),
        prototype=_prototype(table),
        scale=checks.positive(table, "scale", "the scene") if "scale" in table else 87.0,
        warnings=tuple(_warnings(line, locomotive, vehicles)),
    )


def _rows(table: Mapping[str, Any], key: str) -> list[Mapping[str, Any]]:
    rows = table.get(key, [])
    if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
        message = f"{key} must be written as [[{key}]], one block each"
        raise TableError(message)
    return rows


def _section(row: Mapping[str, Any], number: int) -> Section:
    where = f"line section {number}"
    return Section(
        length_mm=checks.positive(row, "length_mm", where),
        grade_permille=checks.grade(row, where),
        radius_mm=checks.radius(row, where),
        name=checks.words(row, "name", where),
    )


def _locomotive(table: Mapping[str, Any]) -> Locomotive:
    row = table.get("locomotive")
    if not isinstance(row, dict):
        message = "the scene has no [locomotive]: add one with length_mm, mass_g and pull_g"
        raise TableError(message)
    where = "the locomotive"
    pull = checks.positive(row, "pull_g", where)
    low, high = (checks.optional(row, key, where) for key in ("low_g", "high_g"))
    if (low is not None and low > pull) or (high is not None and high < pull):
        message = f"{where}: pull_g = {pull:g} does not lie between low_g and high_g"
        raise TableError(message)
    return Locomotive(
        length_mm=checks.positive(row, "length_mm", where),
        mass_g=checks.positive(row, "mass_g", where),
        pull_g=pull,
        low_g=low,
        high_g=high,
        min_radius_mm=checks.not_negative(row, "min_radius_mm", where),
        couplings=checks.couplings(row, where),
        years=checks.window(row, "years", where),
        name=checks.words(row, "name", where, "locomotive"),
        current_a=checks.optional(row, "current_a", where),
        driven_axles=checks.count(row, "driven_axles", where),
    )


def _vehicle(row: Mapping[str, Any], number: int) -> Vehicle:
    name = checks.words(row, "name", f"vehicle {number}", f"vehicle {number}")
    where = f"vehicle {number} ({name})"
    return Vehicle(
        name=name,
        length_mm=checks.positive(row, "length_mm", where),
        mass_g=checks.positive(row, "mass_g", where),
        kind=checks.words(row, "kind", where, "other"),
        years=checks.window(row, "years", where),
        rolling=checks.rolling(row, where),
        min_radius_mm=checks.not_negative(row, "min_radius_mm", where),
        couplings=checks.couplings(row, where),
        axles=checks.count(row, "axles", where),
        country=checks.words(row, "country", where),
        braked=checks.yes_no(row, "braked", where),
        dangerous=bool(checks.yes_no(row, "dangerous", where)),
        loaded=checks.yes_no(row, "loaded", where),
        built=checks.window(row, "built", where),
        length_scale=checks.optional(row, "length_scale", where),
        current_a=checks.optional(row, "current_a", where),
        heating=checks.yes_no(row, "heating", where),
        real_tonnes=checks.optional(row, "real_tonnes", where),
        livery=checks.words(row, "livery", where),
        pool=checks.yes_no(row, "pool", where),
    )


def _prototype(table: Mapping[str, Any]) -> Prototype | None:
    """Read the full-size engine, if there is a ``[prototype]``."""
    if "prototype" not in table:
        return None
    row = table["prototype"]
    where = "the prototype"
    if not isinstance(row, dict):
        message = "prototype must be written as [prototype] with effort_kn, engine_t, speed_km_h"
        raise TableError(message)
    return Prototype(
        effort_kn=checks.positive(row, "effort_kn", where),
        engine_t=checks.positive(row, "engine_t", where),
        speed_km_h=checks.not_negative(row, "speed_km_h", where),
        grade_permille=checks.not_negative(row, "grade_permille", where),
        radius_m=checks.not_negative(row, "radius_m", where),
    )


def _wish(table: Mapping[str, Any]) -> Wish:
    where = "the scene"
    recipe = checks.words(table, "train", where) or None
    loop = checks.positive(table, "loop_mm", where) if "loop_mm" in table else None
    platform = checks.positive(table, "platform_mm", where) if "platform_mm" in table else None
    month = checks.count(table, "month", where)
    if month is not None and month > 12:
        message = f"{where}: month = {month} must lie between 1 and 12"
        raise TableError(message)
    return Wish(
        year=checks.count(table, "year", where),
        recipe=recipe,
        loop_mm=loop,
        fixed=checks.names(table, "fixed", where),
        forbidden=checks.names(table, "forbidden", where),
        country=checks.words(table, "country", where),
        line_kind=checks.words(table, "line_kind", where),
        speed_km_h=checks.optional(table, "speed_km_h", where),
        month=month,
        platform_mm=platform,
        couplers=checks.names(table, "couplers", where),
    )


def _warnings(
    line: tuple[Section, ...], locomotive: Locomotive, vehicles: tuple[Vehicle, ...]
) -> list[str]:
    found = []
    unmeasured = [v.name for v in vehicles if v.rolling is None]
    if unmeasured:
        found.append(
            "rolling resistance not measured, 20 per mille (10 to 40) assumed: "
            + ", ".join(unmeasured)
        )
    strange = sorted({v.kind for v in vehicles if v.kind not in kinds()})
    if strange:
        found.append("kinds that no recipe knows: " + ", ".join(strange))
    curves = [s.radius_mm for s in line if s.radius_mm]
    tightest = min(curves, default=0.0)
    bodies: list[Body] = [locomotive, *vehicles]
    tight = [b.name for b in bodies if tightest and b.min_radius_mm > tightest]
    if tight:
        found.append(f"too long for the curve of {tightest:g} mm: " + ", ".join(tight))
    return found
