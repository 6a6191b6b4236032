"""How commands print: one JSON document, or a short table for a person."""

import json
import sys
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from outshop.errors import InputError
from outshop.estimate import Estimate, Reading, reading_from_json


def print_json(document: Mapping[str, Any]) -> None:
    """Print one JSON document on standard output and nothing else."""
    json.dump(document, sys.stdout, ensure_ascii=False, indent=2, allow_nan=False)
    sys.stdout.write("\n")


def warn(sentence: str) -> None:
    """Say something beside the result, on standard error."""
    print(sentence, file=sys.stderr)


def existing_file(path: Path) -> Path:
    """Return ``path`` if it is a readable file, else raise the sentence that says so."""
    if path.is_dir():
        message = f"{path} is a folder; name a file in it"
        raise InputError(message)
    if not path.is_file():
        message = f"there is no file {path}; check the name"
        raise InputError(message)
    return path


def read_text(path: Path) -> str:
    """Read a UTF-8 text file, with or without byte-order mark."""
    try:
        return existing_file(path).read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as problem:
        message = f"{path} is not UTF-8 text: save it as UTF-8 and try again"
        raise InputError(message) from problem
    except OSError as problem:
        message = f"{path} cannot be read: {problem.strerror}"
        raise InputError(message) from problem


def read_document(path: Path, what: str) -> dict[str, Any]:
    """Read a JSON document that ``what`` printed with ``--json``."""
    try:
        document = json.loads(read_text(path))
    except ValueError as problem:
        message = f"{path} is no JSON: give what '{what} --json' printed"
        raise InputError(message) from problem
    if not isinstance(document, dict):
        message = f"{path} is not what '{what} --json' prints"
        raise InputError(message)
    return document


def read_reading(path: Path, key: str, what: str) -> Reading:
    """Read one reading of a JSON document that ``what`` printed with ``--json``."""
    shape = read_document(path, what).get(key)
    if not isinstance(shape, Mapping):
        message = f"{path} holds no {key.replace('_', ' ')}: give what '{what} --json' printed"
        raise InputError(message)
    return reading_from_json(shape)


def say(reading: Reading, digits: int = 3) -> str:
    """Write a reading as ``57.3 (56.9 to 57.7) dB(A)``, or the reason for its absence."""
    if not isinstance(reading, Estimate):
        return f"not measurable: {reading.reason}"
    numbers = [f"{x:.{digits}g}" for x in (reading.value, reading.low, reading.high)]
    return f"{numbers[0]} ({numbers[1]} to {numbers[2]}) {reading.unit}"


def print_rows(rows: Iterable[Sequence[str]]) -> None:
    """Print rows as left-aligned columns."""
    table = [list(row) for row in rows]
    if not table:
        return
    widths = [max(len(row[i]) for row in table) for i in range(len(table[0]))]
    for row in table:
        print(
            "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        )
