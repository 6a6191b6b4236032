"""Runs at several settings, read from a table or typed, checked before anything is computed."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from outshop.bench.motion.clocks import TOOLS, WAYS_MM, Kind
from outshop.bench.motion.sheet import Sheet, SheetRow, parse_sheet, read_sheet
from outshop.errors import InputError, TableError
from outshop.railway.scales import KM_PER_MILE, Scale, model_speed_m_s

FORWARD, REVERSE = "forward", "reverse"
UP, DOWN = "up", "down"
VOLT, STEP = "V", "step"
MOST_V, MOST_STEP, MOST_M_S = 100.0, 1023.0, 10.0  # our fences against typing slips
READING_SHARE = 0.01  # standard error of one speed: half of the clip bench's aim of 2 %
MOST_POINTS = 2000
HEADER = "setting,unit,direction,sweep,speed_m_s"
_DIRECTIONS = {
    "forward": FORWARD, "fwd": FORWARD, "f": FORWARD, "ahead": FORWARD, "+": FORWARD,
    "reverse": REVERSE, "backward": REVERSE, "rev": REVERSE, "r": REVERSE, "b": REVERSE,
    "back": REVERSE, "-": REVERSE,
}  # fmt: skip
_SWEEPS = {"up": UP, "rising": UP, "down": DOWN, "falling": DOWN, "": ""}
_UNITS = {"v": VOLT, "volt": VOLT, "volts": VOLT, "step": STEP, "steps": STEP}
STANDS = ("-", "–", "stands", "still", "stalled", "0")
# column -> (unit as typed, factor to m/s, at full size)
_SPEEDS = {
    "speed_m_s": ("m/s", 1.0, False),
    "speed_cm_s": ("cm/s", 0.01, False),
    "speed_mm_s": ("mm/s", 0.001, False),
    "speed_km_h": ("km/h", 1.0, True),
    "speed_mph": ("mph", KM_PER_MILE, True),
}


@dataclass(frozen=True, slots=True)
class SpeedPoint:
    """One run at one setting.

    Parameters
    ----------
    setting : float
        Volts or throttle step.
    direction : str
        ``forward`` or ``reverse``.
    sweep : str
        ``up`` when the setting was being raised, ``down`` when lowered, empty when unknown.
    speed_m_s : float
        0 when it stood.
    share : float
        Standard error of the speed as a share of it.
    """

    setting: float
    direction: str
    sweep: str
    speed_m_s: float
    share: float = READING_SHARE

    def __post_init__(self) -> None:
        """Check once, at the door."""
        if not (math.isfinite(self.setting) and self.setting >= 0):
            message = (
                f"a setting of {self.setting:g} cannot be: give its amount, and the direction "
                "by itself"
            )
            raise InputError(message)
        if not 0 <= self.speed_m_s <= MOST_M_S:  # NaN too
            message = (
                f"a speed of {self.speed_m_s:g} m/s cannot be: 0 to {MOST_M_S:g} m/s at the model "
                "is expected; check the unit"
            )
            raise InputError(message)


@dataclass(frozen=True, slots=True)
class SpeedRows:
    """All runs of one table; ``unit`` of the setting is ``V`` or ``step``."""

    unit: str
    points: tuple[SpeedPoint, ...]

    def __post_init__(self) -> None:
        """Check what a single point cannot know."""
        if self.unit not in (VOLT, STEP):
            raise InputError(f"a setting is given in V or step; got {self.unit!r}")
        if not self.points:
            raise InputError("a speed table needs one run at least")
        if len(self.points) > MOST_POINTS:
            raise InputError(f"{len(self.points)} runs: {MOST_POINTS} are enough for one table")
        most = MOST_V if self.unit == VOLT else MOST_STEP
        for point in self.points:
            if point.setting > most:
                message = (
                    f"a setting of {point.setting:g} {self.unit} cannot be: 0 to {most:g} is "
                    "expected"
                )
                raise InputError(message)
            if self.unit == STEP and point.setting != int(point.setting):
                raise InputError(f"step {point.setting:g} is none: steps are whole numbers")

    def along(self, direction: str, sweep: str | None = None) -> list[SpeedPoint]:
        """Give the points of a direction, and of a sweep if one is asked for, by setting."""
        chosen = [
            p for p in self.points
            if p.direction == direction and (sweep is None or p.sweep == sweep)
        ]  # fmt: skip
        return sorted(chosen, key=lambda p: p.setting)


def timed_point(
    setting: float, direction: str, sweep: str, seconds: float, way_mm: float
) -> SpeedPoint:  # fmt: skip
    """Make a point of a time (s) stopped by hand over a way (mm); infinite when it stood.

    Raises
    ------
    InputError
        The time or the way is not above zero.
    """
    if not (math.isfinite(way_mm) and WAYS_MM[0] <= way_mm <= WAYS_MM[1]):
        raise InputError(f"a way of {way_mm:g} mm cannot be: 5 mm to 1 km is expected")
    if math.isnan(seconds) or seconds <= 0:
        raise InputError(f"a time of {seconds:g} s cannot be: it must be above 0")
    if math.isinf(seconds):
        return SpeedPoint(setting, direction, sweep, 0.0)
    press = math.sqrt(2) * TOOLS[Kind.STOP_WATCH].press_s / seconds
    return SpeedPoint(
        setting, direction, sweep, way_mm / 1000 / seconds, math.hypot(READING_SHARE, press)
    )  # fmt: skip


def read_speed_rows(
    source: Path | bytes, *, scale: Scale | None = None, way_mm: float | None = None
) -> SpeedRows:
    """Read a table of runs.

    Parameters
    ----------
    source : Path or bytes
        Columns ``setting,unit,direction,sweep`` and one of ``speed_m_s`` (cm_s, mm_s),
        ``speed_km_h``, ``speed_mph`` (both at full size) or ``time_s`` with ``way_mm``. Without
        ``direction`` a negative setting is reverse; an empty or missing ``sweep`` is unknown.
    scale : Scale, optional
        Needed for speeds at full size.
    way_mm : float, optional
        Way of the times where the table has no such column.

    Raises
    ------
    TableError
        A column is missing, units are mixed, a cell cannot be; the row is named.
    """
    sheet = read_sheet(source) if isinstance(source, Path) else parse_sheet(source)
    value = sheet.only((*_SPEEDS, "time_s"), "speed")
    if "setting" not in sheet.names or value is None:
        message = f"the header needs {HEADER}; it has {', '.join(sheet.names)[:80]}"
        if "speed" in sheet.names:
            message += ": name the speed's unit, as speed_m_s, or speed_km_h at full size"
        raise TableError(message)
    if value in _SPEEDS and _SPEEDS[value][2] and scale is None:
        raise TableError(f"{value} is at full size: give the scale")
    units = {unit for row in sheet.rows for unit in [_unit(sheet, row)]}
    if len(units) > 1:
        raise TableError("the settings mix volts and steps: make a table of each")
    points = [_point(sheet, row, value, scale, way_mm) for row in sheet.rows]
    try:
        return SpeedRows(units.pop(), tuple(points))
    except InputError as problem:
        raise TableError(str(problem)) from problem


def _unit(sheet: Sheet, row: SheetRow) -> str:
    written = row.text("unit") if "unit" in sheet.names else "V"
    unit = _UNITS.get(written.casefold())
    if unit is None:
        raise TableError(f"row {row.number}: the setting's unit {written!r} is none: use V or step")
    return unit


def _point(
    sheet: Sheet, row: SheetRow, value: str, scale: Scale | None, way_mm: float | None
) -> SpeedPoint:
    setting = row.number_in("setting", "V" if _unit(sheet, row) == VOLT else "step")
    if setting is None:
        raise TableError(f"row {row.number} lacks its setting")
    direction = _word(row, "direction", _DIRECTIONS, "forward or reverse")
    if not row.text("direction"):
        direction, setting = (FORWARD, setting) if setting >= 0 else (REVERSE, -setting)
    sweep = _word(row, "sweep", _SWEEPS, "up or down")
    try:
        if value == "time_s":
            over = row.number_in("way_mm", "mm") if "way_mm" in sheet.names else way_mm
            return timed_point(setting, direction, sweep, *_time(row, over))
        return SpeedPoint(setting, direction, sweep, _speed(row, value, scale))
    except TableError:
        raise
    except InputError as problem:
        raise TableError(f"row {row.number}: {problem}") from problem


def _time(row: SheetRow, way_mm: float | None) -> tuple[float, float]:
    if way_mm is None:
        raise InputError("a time needs its way: add a column way_mm")
    seconds = math.inf if _stands(row, "time_s") else row.number_in("time_s", "s")
    if seconds is None:
        raise InputError("the time is missing; write - where it stood")
    return seconds, way_mm


def _speed(row: SheetRow, column: str, scale: Scale | None) -> float:
    unit, factor, full_size = _SPEEDS[column]
    speed = 0.0 if _stands(row, column) else row.number_in(column, unit)
    if speed is None:
        raise InputError("the speed is missing; write 0 where it stood")
    if speed < 0:
        raise InputError(f"a speed of {speed:g} {unit} is negative: the direction has its column")
    if full_size and scale is not None:
        return model_speed_m_s(speed * factor, scale)
    return speed * factor


def _stands(row: SheetRow, column: str) -> bool:
    return row.text(column).casefold() in STANDS


def _word(row: SheetRow, column: str, known: dict[str, str], allowed: str) -> str:
    text = row.text(column).casefold()
    if column == "direction" and not text:
        return FORWARD
    if text not in known:
        raise TableError(f"row {row.number}, column {column}: {text!r} is none; use {allowed}")
    return known[text]


def directions(points: Sequence[SpeedPoint]) -> list[str]:
    """Give the directions that occur, forward first."""
    return [d for d in (FORWARD, REVERSE) if any(p.direction == d for p in points)]
