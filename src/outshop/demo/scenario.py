"""The invented collection as data."""

import tomllib
from functools import cache
from importlib.resources import files
from typing import Any


@cache
def scenario() -> dict[str, Any]:
    """Read the invented railway, makers, engines and pieces."""
    text = (files("outshop.demo") / "collection.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)
