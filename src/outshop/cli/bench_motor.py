"""``outshop bench motor``: points of volts, amps and speed become motor constants."""

from pathlib import Path
from typing import Annotated

import typer

from outshop.cli.output import existing_file, print_json, print_rows, say, warn

_ROWS = (
    ("resistance", "resistance"),
    ("constant", "constant"),
    ("friction torque", "friction_torque"),
    ("no-load speed", "no_load_speed"),
    ("light current", "light_current"),
    ("stall current", "stall_current"),
    ("stall torque", "stall_torque"),
    ("starting voltage", "starting_voltage"),
    ("best efficiency", "best_efficiency"),
)


def command(
    points: Annotated[
        Path,
        typer.Argument(
            metavar="POINTS.csv", help="Columns voltage_v,current_a,rev_per_s; held shaft = 0."
        ),
    ],
    motor: Annotated[
        str, typer.Option(help="permanent-magnet or field-coil.")
    ] = "permanent-magnet",
    twin: Annotated[
        Path | None, typer.Option(help="The same points of a healthy motor of the type.")
    ] = None,
    through_track: Annotated[
        Path | None, typer.Option(help="The same motor fed through track and pick-up.")
    ] = None,
    winding_ohm: Annotated[
        float | None, typer.Option(help="Winding resistance between the brushes, ohm.")
    ] = None,
    wheel_rev_per_s: Annotated[
        float | None, typer.Option(help="Wheel turns a second at the fastest light point.")
    ] = None,
    ratio: Annotated[float | None, typer.Option(help="Motor turns for one wheel turn.")] = None,
    meter_percent: Annotated[
        float, typer.Option(help="Tolerance of the meters, percent of reading.")
    ] = 0.5,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Find resistance, constant and friction. Hold a shaft 1 to 2 s only: windings heat fast."""
    from outshop.bench.electrics.motor import measure
    from outshop.bench.electrics.motor_points import read_points

    result = measure(
        read_points(existing_file(points)),
        kind=motor.strip().lower(),  # type: ignore[arg-type]  # checked by measure
        meter_percent=meter_percent,
        wheel=(wheel_rev_per_s, ratio) if wheel_rev_per_s and ratio else None,
        winding_ohm=winding_ohm,
        twin=read_points(existing_file(twin)) if twin else None,
        through_track=read_points(existing_file(through_track)) if through_track else None,
    )
    if json:
        print_json(result.as_json())
        return
    for warning in result.warnings:
        warn(warning)
    print_rows([(name, say(getattr(result, key))) for name, key in _ROWS])
    for finding in result.findings:
        print(f"- {finding.sentence}")
    print(f"next: {result.next_reading}")
