"""Read the room's own tables, which travel inside the package."""

import tomllib
from functools import cache
from importlib.resources import files
from typing import Any

from outshop.errors import TableError


@cache
def table(name: str) -> dict[str, Any]:
    """Read ``tables/<name>.toml`` once.

    Raises
    ------
    TableError
        The table is not valid TOML.
    """
    text = (files("outshop.workshop") / "tables" / f"{name}.toml").read_text(encoding="utf-8")
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        message = f"the workshop table {name}.toml cannot be read: {problem}"
        raise TableError(message) from problem
