"""Find the wanted columns in the header of a meter's table, and their units."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from outshop.errors import TableError

DELIMITERS = (";", "\t", ",", "|")
LOOK_FOR_HEADER_IN = 60  # lines; loggers write their settings above it

# words that head a column, lower case, and the units that may follow; common practice
WORDS: Mapping[str, frozenset[str]] = {
    "time": frozenset(
        [
            "time",
            "t",
            "zeit",
            "temps",
            "tempo",
            "tijd",
            "tid",
            "elapsed",
            "timestamp",
            "stamp",
            "seconds",
            "second",
            "secs",
            "sec",
            "uhrzeit",
            "datetime",
            "relative_time",
        ]
    ),
    "current": frozenset(
        [
            "current",
            "curr",
            "amps",
            "amp",
            "ampere",
            "amperes",
            "amperage",
            "a",
            "i",
            "strom",
            "courant",
            "intensity",
            "corrente",
            "stroom",
            "ibus",
        ]
    ),
    "voltage": frozenset(
        [
            "voltage",
            "volts",
            "volt",
            "v",
            "u",
            "spannung",
            "tension",
            "tensione",
            "spanning",
            "vbus",
            "ubus",
        ]
    ),
    "speed": frozenset(
        [
            "rev_per_s",
            "rps",
            "speed",
            "rpm",
            "n",
            "omega",
            "w",
            "drehzahl",
            "revs",
            "rev",
            "revolutions",
            "vitesse",
            "rad_per_s",
            "rotation",
        ]
    ),
    "torque": frozenset(["torque", "m", "moment", "drehmoment", "couple"]),
}
UNITS: Mapping[str, Mapping[str, float]] = {
    "time": {"s": 1, "sec": 1, "seconds": 1, "ms": 1e-3, "us": 1e-6, "µs": 1e-6, "μs": 1e-6,
             "min": 60, "h": 3600},
    "current": {"a": 1, "amp": 1, "amps": 1, "ma": 1e-3, "ua": 1e-6, "µa": 1e-6, "μa": 1e-6},
    "voltage": {"v": 1, "volt": 1, "volts": 1, "mv": 1e-3},
    "speed": {"1/s": 1, "rev/s": 1, "rps": 1, "hz": 1, "rev_per_s": 1, "u/s": 1,
              "rpm": 1 / 60, "1/min": 1 / 60, "u/min": 1 / 60, "rev/min": 1 / 60, "min-1": 1 / 60,
              "rad/s": 0.15915494309189535, "rad_per_s": 0.15915494309189535},  # 1 / (2 pi)
    "torque": {"mnm": 1e-3, "nm": 1, "n·m": 1, "mn·m": 1e-3, "unm": 1e-6, "gcm": 9.80665e-5},
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Column:
    """Where a quantity stands and the factor that brings it to its base unit."""

    index: int
    factor: float
    unit_given: bool


@dataclass(frozen=True, slots=True)
class Layout:
    """The layout of a table: its header's line number from 0, delimiter and columns."""

    header_line: int
    delimiter: str
    columns: Mapping[str, Column]
    warnings: tuple[str, ...] = ()


def find_layout(lines: Sequence[str], needed: Sequence[str], optional: Sequence[str]) -> Layout:
    """Find the header among the first lines of a table.

    Parameters
    ----------
    lines : sequence of str
        The first lines of the file.
    needed, optional : sequence of str
        Keys of ``WORDS``.

    Raises
    ------
    TableError
        No line names the needed columns; the sentence says what was seen.
    """
    filled = [(n, line) for n, line in enumerate(lines[:LOOK_FOR_HEADER_IN]) if line.strip()]
    if not filled:
        message = "the table is empty: it needs a header line and readings"
        raise TableError(message)
    best: Layout | None = None
    for number, line in filled:
        for delimiter in DELIMITERS:
            layout = _match(number, line, delimiter, (*needed, *optional))
            if all(key in layout.columns for key in needed):
                return layout
            if best is None or len(layout.columns) > len(best.columns):
                best = layout
    raise TableError(_what_is_missing(filled[0][1], best, needed))


def _match(number: int, line: str, delimiter: str, wanted: Sequence[str]) -> Layout:
    columns: dict[str, Column] = {}
    warnings: list[str] = []
    for index, cell in enumerate(line.split(delimiter)):
        for key in wanted:
            factor = _factor_of(cell, key)
            if factor is None:
                continue
            if key in columns:
                warnings.append(
                    f"several columns hold {key}: the first is used, not {cell.strip()!r}"
                )
            else:
                columns[key] = Column(index, *factor)
            break
    return Layout(number, delimiter, columns, tuple(warnings))


def _factor_of(cell: str, key: str) -> tuple[float, bool] | None:
    """Give factor and whether a unit was named, if the cell heads that column."""
    text = cell.strip().strip('"').strip().casefold()
    units = UNITS[key]
    bracketed = re.fullmatch(r"([^\[(/]*?)\s*[\[(/]\s*([^\])]+?)\s*[\])]?", text)
    if bracketed and bracketed[2] in units and _is_word(bracketed[1] or key, key):
        return units[bracketed[2]], True
    plain = re.sub(r"[\s.-]+", "_", text).strip("_")
    if plain in units and plain not in WORDS[key] and len(plain) > 1:
        return units[plain], True
    for unit, factor in sorted(units.items(), key=lambda u: -len(u[0])):
        stem = plain.removesuffix(f"_{unit}")
        if stem != plain and _is_word(stem, key):
            return factor, True
    if _is_word(plain, key):
        return (units.get(plain, 1.0), plain in units)
    return None


def _is_word(text: str, key: str) -> bool:
    """Whether the text is one of the key's words, alone or with a qualifier (``motor current``)."""
    plain = re.sub(r"[\s.-]+", "_", text).strip("_")
    words = WORDS[key]
    if plain in words:
        return True
    return any(part in words and len(part) > 1 for part in plain.split("_"))


_EXAMPLES = {
    "time": "time_s",
    "current": "current_a",
    "voltage": "voltage_v",
    "speed": "rev_per_s",
    "torque": "torque_mnm",
}


def _what_is_missing(first: str, best: Layout | None, needed: Sequence[str]) -> str:
    example = ",".join(_EXAMPLES[key] for key in needed)
    if re.fullmatch(r"[\s\d.,;:+\-eE|\"]*", first):
        return f"there is no header above {first.strip()[:40]!r}: put {example} in the first line"
    missing = [k for k in needed if best is None or k not in best.columns]
    return (
        f"no column for {' and '.join(missing)} in the header {first.strip()[:60]!r}: "
        f"name the columns like {example}"
    )
