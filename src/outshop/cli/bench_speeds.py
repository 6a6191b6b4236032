"""``outshop bench speeds``: runs at several settings become start, creep, top and straightness."""

from pathlib import Path
from typing import Annotated

import typer

from outshop.cli.output import existing_file, print_json, print_rows, say, warn

_NAMES = {
    "start": "starts at",
    "drop_out": "drops out at",
    "start_over_drop_out": "start above drop-out",
    "creep": "creep",
    "top": "top speed",
    "creep_scale": "creep, full size",
    "top_scale": "top speed, full size",
    "bow": "bow",
    "unevenness": "unevenness",
    "lag": "faster when lowered",
}


def command(
    table: Annotated[
        Path,
        typer.Argument(
            metavar="RUNS.csv", help="Columns setting,unit,direction,sweep,speed_m_s (or time_s)."
        ),
    ],
    before: Annotated[
        Path | None, typer.Option(help="Table of the same model before the work.")
    ] = None,
    scale: Annotated[
        str | None, typer.Option(help="Scale, as ratio or name: 87, 1:87, H0.")
    ] = None,
    full_size_km_h: Annotated[
        float | None, typer.Option(help="Top speed of the full-size engine, for NEM 661.")
    ] = None,
    nominal: Annotated[
        float | None,
        typer.Option(help="Nominal voltage or top step, for the top speed."),
    ] = None,
    way_mm: Annotated[
        float | None, typer.Option(help="Way of the times, without a column way_mm.")
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Find start, drop-out, creep, top speed, straightness and hysteresis from a table of runs."""
    from outshop.bench.compare.speed_tables import compare_tables
    from outshop.bench.motion.speed_rows import read_speed_rows
    from outshop.bench.motion.speed_table import measure
    from outshop.railway.scales import scale as scale_of

    of = scale_of(scale) if scale else None
    tables = [
        measure(
            read_speed_rows(existing_file(path), scale=of, way_mm=way_mm),
            scale=of,
            full_size_km_h=full_size_km_h,
            nominal=nominal,
        )
        for path in (table, before)
        if path is not None
    ]
    found = tables[0]
    comparison = compare_tables(tables[1], found) if before is not None else None
    if json:
        change = {} if comparison is None else {"comparison": comparison.as_json()}
        print_json({**found.as_json(), **change})
        return
    for warning in found.warnings:
        warn(warning)
    print_rows([(_name(key), say(reading)) for key, reading in found.readings().items()])
    if found.verdict is not None:
        print(found.verdict.sentence)
    if comparison is not None:
        print_rows([(_name(r.quantity), say(r.change), r.word) for r in comparison.rows])
        print(f"{comparison.verdict.replace('_', ' ')}: {comparison.reason}")


def _name(key: str) -> str:
    for way in ("forward", "reverse"):
        if key.endswith(f"_{way}") and key.removesuffix(f"_{way}") in _NAMES:
            return f"{_NAMES[key.removesuffix(f'_{way}')]}, {way}"
    return key.replace("_", " ")
