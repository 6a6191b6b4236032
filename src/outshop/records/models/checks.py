"""What a field must look like; each check raises a sentence that names the value."""

import math
from typing import Any

from django.core.exceptions import ValidationError

from outshop.errors import NotationError, TableError
from outshop.railway import arrangement, scales
from outshop.railway.edtf_years import read_years


def check_edtf(text: str) -> None:
    """Accept an EDTF date or interval (ISO 8601-2) that does not run backwards."""
    try:
        read_years(text)
    except NotationError as problem:
        raise ValidationError(str(problem)) from problem


def check_arrangement(text: str) -> None:
    """Accept a wheel arrangement that the railway room can read, a coach's among them."""
    try:
        arrangement.parse(text, hauled=True)
    except NotationError as problem:
        raise ValidationError(str(problem)) from problem


def check_texts(value: Any) -> None:
    """Accept a list of plain sentences."""
    if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
        raise ValidationError(f"expected a list of texts, got {value!r}")


def check_legs(value: Any) -> None:
    """Accept legs of a run-in: each a direction and between 0 and 600 minutes."""
    if not isinstance(value, list) or not value:
        raise ValidationError("a run-in needs at least one leg")
    for leg in value:
        if not isinstance(leg, dict) or leg.get("direction") not in ("forward", "reverse"):
            raise ValidationError(f"a leg runs forward or reverse; got {leg!r}")
        if not _is_number(leg.get("minutes")) or not 0 < leg["minutes"] <= 600:
            raise ValidationError(f"a leg lasts between 0 and 600 minutes; got {leg!r}")


def check_drive(value: Any) -> None:
    """Accept a drive as the sound bench reads it."""
    from outshop.bench.sound.drive import drive_from_table  # slow to load, rarely needed

    if not isinstance(value, dict):
        raise ValidationError(f"a drive is a set of named numbers; got {value!r}")
    try:
        drive_from_table(value)
    except TableError as problem:
        raise ValidationError(str(problem)) from problem


def check_scale(text: str) -> None:
    """Accept a scale by its name or its ratio."""
    try:
        scales.scale(text)
    except NotationError as problem:
        raise ValidationError(str(problem)) from problem


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
