"""``outshop bench current``: a current log becomes phases and currents."""

from pathlib import Path
from typing import Annotated

import typer

from outshop.cli.output import existing_file, print_json, print_rows, say, warn

_ROWS = (
    ("running current", "running_current"),
    ("starting peak", "starting_peak"),
    ("stalled current", "stalled_current"),
    ("slip current", "slip_current"),
    ("drift while warming", "drift"),
    ("ripple", "ripple_frequency"),
    ("motor speed", "motor_speed"),
    ("dips", "dip_rate"),
    ("regular dips", "dip_frequency"),
    ("voltage", "voltage"),
)


def command(
    log: Annotated[
        Path,
        typer.Argument(metavar="LOG.csv", help="Columns time_s,current_a[,voltage_v] or alike."),
    ],
    supply: Annotated[
        str | None, typer.Option(help="dc, full-wave, half-wave, ac or pwm; seen from the log.")
    ] = None,
    duty: Annotated[
        float | None, typer.Option(help="On-time over period of a pulse-width supply.")
    ] = None,
    true_rms: Annotated[
        bool, typer.Option("--true-rms", help="The voltage column holds rms values.")
    ] = False,
    poles: Annotated[
        int | None, typer.Option(help="Poles of the armature, for the motor's speed.")
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Tell off, starting, running and stalled apart in a logger's file."""
    from outshop.bench.electrics.current import measure_file

    result = measure_file(
        existing_file(log), supply=supply, duty=duty, poles=poles, true_rms=true_rms
    )
    if json:
        print_json(result.as_json())
        return
    for warning in result.warnings:
        warn(warning)
    print_rows([(p.state, f"{p.start_s:.2f} to {p.end_s:.2f} s") for p in result.phases])
    print_rows([(name, say(getattr(result, key))) for name, key in _ROWS])
    print_rows([(f"run {r.start_s:.1f} s, {r.direction}", say(r.current)) for r in result.runs])
    print(result.supply)
