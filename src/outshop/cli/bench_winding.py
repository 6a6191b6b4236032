"""``outshop bench winding``: readings between segments become coils."""

from typing import Annotated

import typer

from outshop.cli.output import print_json, print_rows, say, warn

CONTEXT = {"ignore_unknown_options": True}  # so that -3 reaches us and gets its sentence


def command(
    readings: Annotated[
        list[str],
        typer.Argument(
            metavar="R1 R2 R3 ...",
            help="Ohms between neighbouring commutator segments, in order around; OL if open.",
        ),
    ],
    connection: Annotated[str, typer.Option(help="delta (closed ring) or star.")] = "delta",
    lead: Annotated[str, typer.Option(help="Reading with the tips together, ohm.")] = "0",
    meter_percent: Annotated[
        float, typer.Option(help="Tolerance of the meter, percent of reading.")
    ] = 1.0,
    temperature: Annotated[
        float | None, typer.Option(help="Temperature of the winding, degrees Celsius.")
    ] = None,
    to_shaft: Annotated[
        list[str] | None, typer.Option(help="Ohms from a segment to the shaft; may be repeated.")
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Find each coil's resistance and which coil is open or shorted."""
    from outshop.bench.electrics import winding

    values, step = winding.read_ohms(readings)
    leads, _ = winding.read_ohms([lead], "lead")
    shaft, _ = winding.read_ohms(to_shaft or [], "shaft readings")
    result = winding.measure(
        values,
        connection=connection.strip().lower(),  # type: ignore[arg-type]  # checked by measure
        lead=leads[0],
        meter_percent=meter_percent,
        step=step,
        temperature_c=temperature,
        to_shaft=shaft,
    )
    if json:
        print_json(result.as_json())
        return
    for warning in result.warnings:
        warn(warning)
    coils = ", ".join(map(str, result.suspect))
    print_rows([("verdict", result.verdict + (f": coil {coils}" if coils else ""))])
    print_rows([(f"coil {k}", say(c)) for k, c in enumerate(result.coils, start=1)])
    print_rows([("insulation to the shaft", result.insulation)])
