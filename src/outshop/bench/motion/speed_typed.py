"""A grid that a person filled in, setting by setting, becomes the runs of a speed table."""

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from outshop.bench.motion.speed_rows import (
    DOWN,
    FORWARD,
    REVERSE,
    STANDS,
    UP,
    VOLT,
    SpeedPoint,
    SpeedRows,
    timed_point,
)
from outshop.bench.readings import quantity
from outshop.errors import InputError
from outshop.railway.scales import Scale, model_speed_m_s

Column = tuple[str, str]
COLUMNS: tuple[Column, ...] = ((FORWARD, UP), (FORWARD, DOWN), (REVERSE, UP), (REVERSE, DOWN))
TIMES, MODEL_SPEEDS, FULL_SIZE_SPEEDS = "s", "m/s", "km/h"  # what the cells hold
_WORDS = {UP: "raising", DOWN: "lowering"}


@dataclass(frozen=True, slots=True)
class TypedLine:
    """One line: the setting, and a cell for each column, as typed."""

    setting: str
    cells: Mapping[Column, str]


def typed_rows(
    lines: Sequence[TypedLine],
    *,
    unit: str,
    holds: str = TIMES,
    way_mm: float | None = None,
    scale: Scale | None = None,
) -> SpeedRows | None:
    """Read a filled grid; None when every cell is empty.

    Parameters
    ----------
    lines : sequence of TypedLine
        A cell holds one reading or several; ``-`` and ``0`` mean that it stood.
    unit : str
        Of the settings, ``V`` or ``step``.
    holds : str
        ``s`` over the way, ``m/s`` at the model, or ``km/h`` at full size.
    way_mm, scale : float, Scale, optional
        Needed for times, and for speeds at full size.

    Raises
    ------
    InputError
        The sentence names the setting and the column.
    """
    if not any(text.strip() for line in lines for text in line.cells.values()):
        return None
    if holds == TIMES and way_mm is None:
        raise InputError("times need the way over which they were taken, in mm")
    if holds == FULL_SIZE_SPEEDS and scale is None:
        raise InputError("speeds at full size need the model's scale: enter it with the piece")
    points = [
        point
        for number, line in enumerate(lines, 1)
        for point in _line(number, line, unit, holds, math.nan if way_mm is None else way_mm, scale)
    ]
    return SpeedRows(unit, tuple(points))


def _line(
    number: int, line: TypedLine, unit: str, holds: str, way_mm: float, scale: Scale | None
) -> Iterator[SpeedPoint]:
    filled = {column: text for column, text in line.cells.items() if text.strip()}
    if not filled:
        return
    if not line.setting.strip():
        raise InputError(f"line {number} has readings but no setting")
    setting, _ = quantity(line.setting, "V" if unit == VOLT else "step")
    for (direction, sweep), text in filled.items():
        for word in re.split(r"[;\s]+", text.strip()):
            try:
                yield _point(setting, direction, sweep, word, holds, way_mm, scale)
            except InputError as problem:
                where = f"setting {line.setting.strip()}, {direction}, {_WORDS[sweep]}"
                message = f"{where}: {problem}"
                raise InputError(message) from problem


def _point(
    setting: float,
    direction: str,
    sweep: str,
    word: str,
    holds: str,
    way_mm: float,
    scale: Scale | None,
) -> SpeedPoint:
    stood = word.casefold() in STANDS
    value = math.nan if stood else quantity(word, holds)[0]
    if holds == TIMES:
        return timed_point(setting, direction, sweep, math.inf if stood else value, way_mm)
    if stood:
        return SpeedPoint(setting, direction, sweep, 0.0)
    if holds == FULL_SIZE_SPEEDS and scale is not None:
        value = model_speed_m_s(value, scale)
    return SpeedPoint(setting, direction, sweep, value)
