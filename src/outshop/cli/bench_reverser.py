"""``outshop bench reverser``: a reversing unit against NEM 640."""

from typing import Annotated

import typer

from outshop.cli.output import print_json, print_rows


def command(
    pull_in_v: Annotated[
        float | None, typer.Option(help="Voltage at which it throws, rms; omit if it does not.")
    ] = None,
    release_v: Annotated[float | None, typer.Option(help="Voltage at which it falls back.")] = None,
    delay_s: Annotated[float | None, typer.Option(help="From the pulse to the throw, s.")] = None,
    supply_pulse_v: Annotated[
        float | None, typer.Option(help="Pulse that the supply gives under load, rms V.")
    ] = None,
    highest_drive_v: Annotated[float, typer.Option(help="Highest driving voltage, rms V.")] = 16.0,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Judge an overvoltage reversing unit. Transformers stay closed; mains is for the licensed."""
    from outshop.bench.electrics.reversing import judge

    result = judge(
        pull_in_v=pull_in_v,
        release_v=release_v,
        delay_s=delay_s,
        supply_pulse_v=supply_pulse_v,
        highest_drive_v=highest_drive_v,
    )
    if json:
        print_json(result.as_json())
        return
    print_rows([(f.id, f.sentence) for f in result.findings])
