"""A table of clock readings becomes timings: clock, way, time, laps."""

from pathlib import Path

from outshop.bench.motion.clocks import Kind, Timing
from outshop.bench.motion.sheet import Sheet, SheetRow, parse_sheet, read_sheet
from outshop.errors import InputError, TableError

_WAYS = {"way_mm": 1.0, "way_cm": 10.0, "way_m": 1000.0}
_TIMES = {"time_s": 1.0, "time_ms": 1e-3, "time_min": 60.0}
_KINDS = {
    "stop-watch": Kind.STOP_WATCH, "stopwatch": Kind.STOP_WATCH, "stop watch": Kind.STOP_WATCH,
    "watch": Kind.STOP_WATCH, "hand": Kind.STOP_WATCH, "gates": Kind.GATES, "gate": Kind.GATES,
    "light gates": Kind.GATES, "laps": Kind.LAPS, "lap": Kind.LAPS, "loop": Kind.LAPS,
}  # fmt: skip
HEADER = "clock,way_mm,time_s"


def read_timings(source: Path | bytes) -> list[Timing]:
    """Read times from a table with the columns ``clock,way_mm,time_s`` and perhaps ``laps`` and
    ``way_tolerance_mm``; rows of one clock over one way belong together.

    Raises
    ------
    TableError
        A column is missing, a cell is no number or names another unit; the row is named.
    """  # noqa: D205 - one sentence
    sheet = read_sheet(source) if isinstance(source, Path) else parse_sheet(source)
    way = sheet.only(tuple(_WAYS), "way")
    time = sheet.only(tuple(_TIMES), "time")
    if way is None or time is None or "clock" not in sheet.names:
        raise TableError(f"the header needs {HEADER}; it has {', '.join(sheet.names)}")
    groups: dict[tuple[Kind, float, int, float | None], list[float]] = {}
    for row in sheet.rows:
        key, seconds = _read(sheet, row, way, time)
        groups.setdefault(key, []).append(seconds)
    return [
        Timing(kind, way_mm, tuple(seconds), laps, tolerance)
        for (kind, way_mm, laps, tolerance), seconds in groups.items()
    ]


def kind_of(word: str) -> Kind:
    """Give the clock that a word names.

    Raises
    ------
    InputError
        None.
    """
    kind = _KINDS.get(word.strip().casefold())
    if kind is None:
        raise InputError(f"{word.strip()!r} is no clock: use stop-watch, gates or laps")
    return kind


def _read(
    sheet: Sheet, row: SheetRow, way: str, time: str
) -> tuple[tuple[Kind, float, int, float | None], float]:
    way_given = row.number_in(way, way.removeprefix("way_"))
    seconds = row.number_in(time, time.removeprefix("time_"))
    if way_given is None or seconds is None:
        raise TableError(f"row {row.number} lacks its way or its time")
    laps = row.number_in("laps", "") if "laps" in sheet.names else None
    laps = 1.0 if laps is None else laps
    if laps != int(laps):
        raise TableError(f"row {row.number}: {laps:g} laps; count whole rounds")
    tolerance = row.number_in("way_tolerance_mm", "mm")
    try:
        kind = kind_of(row.text("clock"))
        # one timing of its own: its checks then name the row
        one = Timing(kind, way_given * _WAYS[way], (seconds * _TIMES[time],), int(laps), tolerance)
    except InputError as problem:
        raise TableError(f"row {row.number}: {problem}") from problem
    return (one.kind, one.way_mm, one.laps, one.way_tolerance_mm), one.seconds[0]
