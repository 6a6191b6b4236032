"""``outshop bench clock``: a stop-watch, light gates or laps become a speed."""

from pathlib import Path
from typing import Annotated

import typer

from outshop.cli.output import print_json, print_rows, read_reading, say, warn


def command(
    table: Annotated[
        Path | None,
        typer.Argument(metavar="[RUNS.csv]", help="Columns clock,way_mm,time_s[,laps]."),
    ] = None,
    way_mm: Annotated[
        float | None, typer.Option(help="Measured way, or length of the loop.")
    ] = None,
    seconds: Annotated[
        str | None, typer.Option(help="Times over the way, as 5.02,5.10,4.97.")
    ] = None,
    by: Annotated[str, typer.Option(help="stop-watch, gates or laps.")] = "stop-watch",
    laps: Annotated[int, typer.Option(help="Rounds of the loop in each time.")] = 1,
    tolerance_mm: Annotated[
        float | None, typer.Option(help="The way is right within this, 19 times in 20.")
    ] = None,
    clip: Annotated[
        Path | None, typer.Option(help="JSON of 'bench motion' of the same run.")
    ] = None,
    sound: Annotated[
        Path | None, typer.Option(help="JSON of 'bench sound' of the same run, for its laps.")
    ] = None,
    loop_mm: Annotated[float | None, typer.Option(help="Loop of the laps in the sound.")] = None,
    scale: Annotated[
        str | None, typer.Option(help="Scale, as ratio or name: 87, 1:87, H0.")
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Turn times over a known way or loop into a speed, and hold several clocks together."""
    from outshop.bench.motion.clock_table import kind_of, read_timings
    from outshop.bench.motion.clocks import Timing, clocked, from_clip, from_lap_time
    from outshop.bench.motion.together import together
    from outshop.bench.readings import number_list
    from outshop.cli.output import existing_file
    from outshop.errors import InputError
    from outshop.railway.scales import scale as scale_of

    if (way_mm is None) != (seconds is None):
        raise typer.BadParameter("give both --way-mm and --seconds", param_hint="way")
    if (sound is None) != (loop_mm is None):
        raise typer.BadParameter("give both --sound and --loop-mm", param_hint="sound")
    timings = [] if table is None else read_timings(existing_file(table))
    if way_mm is not None and seconds is not None:
        times = tuple(number_list(seconds, "s"))
        timings.append(Timing(kind_of(by), way_mm, times, laps, tolerance_mm))
    clocks = [clocked(t) for t in timings]
    if sound is not None and loop_mm is not None:
        lap = read_reading(sound, "lap_time", "bench sound")
        clocks.append(from_lap_time(lap, loop_mm, tolerance_mm if way_mm is None else None))
    if clip is not None:
        clocks.append(from_clip(read_reading(clip, "speed", "bench motion")))
    if not clocks:
        raise InputError("give a table of runs, or --way-mm with --seconds")
    found = together(clocks, scale_of(scale) if scale else None)
    if json:
        print_json(found.as_json())
        return
    for warning in found.as_json()["warnings"]:
        warn(warning)
    rows = [(c.name, say(c.speed), _full_size(c.scale_speed(found.scale))) for c in clocks]
    if found.agree is not None:
        rows.append(("together", say(found.speed), _full_size(found.scale_speed)))
    print_rows(rows)
    print_rows([(f"{p.other} against {p.one}", say(p.difference)) for p in found.pairs])


def _full_size(reading: object) -> str:
    from outshop.estimate import Estimate

    return say(reading) if isinstance(reading, Estimate) else ""
