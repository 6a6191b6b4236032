"""``outshop bench slip``: wheel speed against track speed."""

from pathlib import Path
from typing import Annotated

import typer

from outshop.cli.output import print_json, print_rows, read_document, read_reading, say, warn


def command(
    sound: Annotated[Path, typer.Option(help="JSON of 'bench sound' of the run.")],
    track: Annotated[Path, typer.Option(help="JSON of 'bench motion' of the same run.")],
    wheel_mm: Annotated[
        float | None, typer.Option(help="Driving wheel's tread; the drive's if not given.")
    ] = None,
    wheel_tolerance_mm: Annotated[
        float | None, typer.Option(help="The diameter is right within this, 19 times in 20.")
    ] = None,
    rolling: Annotated[
        bool,
        typer.Option("--rolling", help="Nothing slips (light, level): find the ratio."),
    ] = False,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Find the slip of the driving wheels, or the true ratio of the drive when nothing slips."""
    from outshop.bench.motion.run import run_slip

    heard = read_document(sound, "bench sound")
    found = run_slip(
        heard,
        read_reading(track, "speed", "bench motion"),
        wheel_mm=wheel_mm,
        wheel_tolerance_mm=wheel_tolerance_mm,
        rolling=rolling,
    )
    if json:
        print_json({**found.bench.as_json(), **found.as_json()})
        return
    for warning in found.warnings:
        warn(warning)
    rows = [("slip", say(found.bench.slip)), ("rolls on", say(found.bench.rolling_diameter))]
    if rolling:
        rows.append(("ratio", say(found.bench.ratio)))
    rows += [
        (f"if the motor turns {speed:.4g} 1/s", say(slip)) for speed, slip in found.alternatives
    ]
    print_rows(rows)
    for teeth in found.bench.fits.nearest:
        print(f"{teeth.written} = {teeth.ratio:.3f} ({teeth.off_percent:+.2f} %)")
    for sentence in found.bench.says:
        print(f"{sentence[:1].upper()}{sentence[1:]}.")
