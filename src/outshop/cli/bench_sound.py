"""``outshop bench sound``: a recording becomes numbers."""

from pathlib import Path
from typing import Annotated

import typer

from outshop.cli.output import existing_file, print_json, print_rows, read_text, say, warn


def command(
    file: Annotated[Path, typer.Argument(help="Any sound or video file with a sound track.")],
    drive: Annotated[
        Path | None, typer.Option(help="TOML file with what is known of the drive.")
    ] = None,
    full_scale_db: Annotated[
        float | None,
        typer.Option(help="Level of a full-scale sine in dB SPL; without it levels are relative."),
    ] = None,
    scale_speed_kmh: Annotated[
        float | None,
        typer.Option(min=0.1, help="Scale speed known otherwise: clip, lap and loop, stop-watch."),
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Measure level, speed, orders and rhythm of a recorded model."""
    from outshop.bench.sound import measure_file, read_drive

    known = read_drive(read_text(drive)) if drive else None
    result = measure_file(
        existing_file(file), known, full_scale_db, scale_speed_km_h=scale_speed_kmh
    )
    if json:
        print_json(result.as_json())
        return
    for warning in result.warnings:
        warn(warning)
    print_rows([("runs", ", ".join(_span(r.start_s, r.end_s, r.state) for r in result.runs))])
    print_rows(
        [
            ("level", say(result.level)),
            ("background", say(result.background)),
            ("motor speed", f"{say(result.motor_speed)} [{result.motor_speed_status}]"),
            ("wheel speed", say(result.wheel_speed)),
            ("scale speed", say(result.scale_speed)),
            ("wheel-turn modulation", say(result.wheel_turn_modulation)),
            ("speed swing", say(result.speed_swing)),
            ("lap time", say(result.lap_time)),
            ("squeal", say(result.squeal)),
            ("crackle", say(result.crackle)),
        ]
    )
    if result.orders:
        print_rows(
            [("order", "name", "Hz", "dB", "above surroundings dB")]
            + [
                (
                    f"{o['order']:.3g}",
                    str(o["name"]),
                    f"{o['frequency_hz']:.1f}",
                    f"{o['level_db']:.1f}",
                    f"{o['prominence_db']:.1f}",
                )
                for o in result.orders
            ]
        )
    if result.fixed_resonances:
        print_rows(
            [("fixed resonance", "above surroundings dB")]
            + [
                (f"{r['frequency_hz']:.0f} Hz", f"{r['prominence_db']:.1f}")
                for r in result.fixed_resonances
            ]
        )


def _span(start_s: float, end_s: float, state: str) -> str:
    return f"{state} {start_s:.2f}-{end_s:.2f} s"
