"""What a field must look like; each check raises a sentence that names the value."""

import math
from typing import Any

from django.core.exceptions import ValidationError

from outshop.errors import NotationError
from outshop.records import edtf_years


def check_edtf(text: str) -> None:
    """Accept an EDTF date or interval (ISO 8601-2) that does not run backwards."""
    try:
        edtf_years.years(text)
    except NotationError as problem:
        raise ValidationError(str(problem)) from problem


def check_arrangement(text: str) -> None:
    """Accept a wheel arrangement that the railway room can read."""
    try:
        from outshop.railway import arrangement
    except ImportError:
        return
    try:
        arrangement.parse(text)
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
    """Accept a drive: positive numbers under the contract's names, and its gear stages."""
    if not isinstance(value, dict):
        raise ValidationError(f"a drive is a set of named numbers; got {value!r}")
    for key, number in value.items():
        if key == "stages":
            _check_stages(number)
        elif key in ("scale", "wheel_diameter_mm", "armature_poles", "ratio"):
            if not _is_number(number) or number <= 0:
                raise ValidationError(f"{key} must be a number above zero; got {number!r}")
        else:
            raise ValidationError(
                f"a drive knows scale, wheel_diameter_mm, armature_poles, ratio and stages; "
                f"got {key!r}"
            )


def _check_stages(stages: Any) -> None:
    if not isinstance(stages, list):
        raise ValidationError(f"stages must be a list; got {stages!r}")
    for stage in stages:
        teeth = [stage.get(k) for k in ("driver_teeth", "driven_teeth")] if _is_map(stage) else []
        if not teeth or not all(isinstance(t, int) and not isinstance(t, bool) for t in teeth):
            raise ValidationError(
                f"a stage needs driver_teeth and driven_teeth, whole numbers; got {stage!r}"
            )
        if min(teeth) < 1:
            raise ValidationError(f"a wheel has at least one tooth; got {stage!r}")


def _is_map(value: Any) -> bool:
    return isinstance(value, dict)


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
