"""``outshop bench rolling``: rolling resistance of one vehicle."""

from typing import Annotated

import typer

from outshop.cli.output import print_json, say
from outshop.errors import InputError


def command(
    tilt_deg: Annotated[str, typer.Option(help="Angles at which it just rolls, degrees.")] = "",
    height_mm: Annotated[
        str, typer.Option(help="Heights of one board end at which it just rolls, mm.")
    ] = "",
    base_mm: Annotated[float | None, typer.Option(help="Base of the board, mm.")] = None,
    ramp_height_mm: Annotated[float | None, typer.Option(help="Height of a ramp, mm.")] = None,
    ramp_mm: Annotated[float | None, typer.Option(help="Length along the ramp, mm.")] = None,
    distance_mm: Annotated[str, typer.Option(help="Rolled on the level behind it, mm.")] = "",
    speed_m_s: Annotated[
        str, typer.Option(help="Speed when the power went off, m/s, from the clip.")
    ] = "",
    coasted_mm: Annotated[str, typer.Option(help="Coasted from there to rest, mm.")] = "",
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Find the rolling resistance from tilt, ramp or coasting, in permille of the weight."""
    from outshop.bench.gauges import rolling
    from outshop.bench.readings import number_list

    if tilt_deg:
        found = rolling.from_tilt(number_list(tilt_deg, "deg"))
    elif height_mm and base_mm is not None:
        found = rolling.from_slope(number_list(height_mm, "mm"), base_mm)
    elif distance_mm and ramp_height_mm is not None and ramp_mm is not None:
        found = rolling.from_ramp(number_list(distance_mm, "mm"), ramp_height_mm, ramp_mm)
    elif speed_m_s and coasted_mm:
        found = rolling.from_coasting(number_list(speed_m_s, "m/s"), number_list(coasted_mm, "mm"))
    else:
        message = (
            "give --tilt-deg, or --height-mm with --base-mm, or --distance-mm with "
            "--ramp-height-mm and --ramp-mm, or --speed-m-s with --coasted-mm"
        )
        raise InputError(message)
    words = rolling.judgement(found)
    if json:
        print_json({"rolling": found.as_json(), "verdict": words})
        return
    print(f"{say(found)}: {words}")
