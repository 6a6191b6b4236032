"""Reading one TOML table's entries, with a sentence for each thing that is wrong."""

import math
import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from outshop.diagnosis.terms import nearest
from outshop.errors import KnowledgeError


class Entry:
    """One entry of a knowledge file, that knows where it stands."""

    def __init__(self, file: Path, label: str, values: Mapping[str, Any]) -> None:
        self.where = f"{file.name}, {label}"
        self.values = values
        self._used: set[str] = set()

    def fault(self, what: str) -> KnowledgeError:
        """Build the error that says file, entry and cure."""
        return KnowledgeError(f"{self.where}: {what}")

    def text(self, key: str, default: str | None = None) -> str:
        """Read a text that must not be empty unless a default is given."""
        value = self._take(key, default)
        if not isinstance(value, str) or (default is None and not value.strip()):
            raise self.fault(f"'{key}' must be a text; write one in quotes")
        return value

    def texts(self, key: str) -> tuple[str, ...]:
        """Read a list of texts, empty if absent."""
        value = self._take(key, [])
        if not isinstance(value, list) or not all(isinstance(x, str) for x in value):
            raise self.fault(f'\'{key}\' must be a list of texts, such as ["one", "two"]')
        return tuple(value)

    def flag(self, key: str) -> bool:
        """Read true or false, false if absent."""
        value = self._take(key, False)
        if not isinstance(value, bool):
            raise self.fault(f"'{key}' must be true or false")
        return value

    def number(self, key: str, default: float | None = None, low: float = 0.0) -> float:
        """Read a finite number not below ``low``."""
        return self._number(key, self._take(key, default), low, math.inf)

    def probability(self, key: str, default: float | None = None) -> float:
        """Read a number from 0 to 1."""
        return self._number(key, self._take(key, default), 0.0, 1.0)

    def probabilities(self, key: str) -> dict[str, float]:
        """Read a table of probabilities, empty if absent."""
        return {k: self._number(f"{key}.{k}", v, 0.0, 1.0) for k, v in self.table(key).items()}

    def factors(self, key: str) -> dict[str, float]:
        """Read a table of factors, each 0 or more, empty if absent."""
        table = self.table(key)
        return {k: self._number(f"{key}.{k}", v, 0.0, math.inf) for k, v in table.items()}

    def table(self, key: str) -> dict[str, Any]:
        """Read a table, empty if absent."""
        value = self._take(key, {})
        if not isinstance(value, dict):
            raise self.fault(f"'{key}' must be a table, such as {{ a = 0.5 }}")
        return value

    def tables(self, key: str) -> list["Entry"]:
        """Read a list of tables, empty if absent."""
        value = self._take(key, [])
        if not isinstance(value, list) or not all(isinstance(x, dict) for x in value):
            raise self.fault(f"'{key}' must be a list of tables")
        return [self.part(f"{key} {i + 1}", x) for i, x in enumerate(value)]

    def part(self, label: str, values: Mapping[str, Any]) -> "Entry":
        """Give a sub-entry that names its parent."""
        inner = Entry(Path(), label, values)
        inner.where = f"{self.where}, {label}"
        return inner

    def done(self) -> None:
        """Refuse keys that nobody asked for: most are slips of the pen."""
        for key in self.values:
            if key not in self._used:
                raise self.fault(f"does not know '{key}'{nearest(key, self._used)}; remove it")

    def _take(self, key: str, default: Any) -> Any:
        self._used.add(key)
        if key in self.values:
            return self.values[key]
        if default is None:
            raise self.fault(f"'{key}' is missing; add it")
        return default

    def _number(self, key: str, value: object, low: float, high: float) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise self.fault(f"'{key}' is {value!r}; it must be a number")
        if not (math.isfinite(value) and low <= value <= high):
            span = f"from {low:g} to {high:g}" if high < math.inf else f"of {low:g} or more"
            raise self.fault(f"'{key}' is {value}; it must be a number {span}")
        return float(value)


def entries_of(file: Path, table: str, key: str = "id") -> Iterator[Entry]:
    """Yield the entries ``[[table]]`` of a TOML file.

    Raises
    ------
    KnowledgeError
        The file is no TOML, has other tables, or an entry lacks its ``key``.
    """
    try:
        document = tomllib.loads(file.read_text(encoding="utf-8"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, OSError) as problem:
        message = f"{file.name} cannot be read as TOML: {problem}; mend that place"
        raise KnowledgeError(message) from problem
    for name in document:
        if name != table:
            message = f"{file.name}: holds '{name}'; only [[{table}]] entries belong there"
            raise KnowledgeError(message)
    listed = document.get(table, [])
    if not isinstance(listed, list):
        message = f"{file.name}: write [[{table}]] with double brackets"
        raise KnowledgeError(message)
    for count, values in enumerate(listed, start=1):
        label = values.get(key)
        if not isinstance(label, str) or not label:
            message = f"{file.name}, {table} {count}: '{key}' is missing; give it a short name"
            raise KnowledgeError(message)
        yield Entry(file, f"{table} '{label}'", values)
