"""``outshop bench compare``: before and after a job."""

from pathlib import Path
from typing import Annotated

import typer

from outshop.cli.output import existing_file, print_json, print_rows, read_text, say, warn


def command(
    before: Annotated[Path, typer.Argument(help="Recording before the job.")],
    after: Annotated[Path, typer.Argument(help="Recording after it, same programme and place.")],
    drive: Annotated[
        Path | None, typer.Option(help="TOML file with what is known of the drive.")
    ] = None,
    full_scale_db: Annotated[
        float | None,
        typer.Option(help="Level of a full-scale sine in dB SPL; without it levels are relative."),
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Say what changed between two recordings, and whether that is proven."""
    from outshop.bench.compare import compare
    from outshop.bench.sound import measure_file, read_drive

    known = read_drive(read_text(drive)) if drive else None
    old = measure_file(existing_file(before), known, full_scale_db)
    new = measure_file(existing_file(after), known, full_scale_db)
    result = compare(old, new)
    if json:
        print_json(result.as_json())
        return
    for warning in result.warnings:
        warn(warning)
    print(f"Verdict: {result.verdict.replace('_', ' ')}")
    print_rows(
        [("quantity", "before", "after", "change", "verdict")]
        + [
            (r.quantity, say(r.before), say(r.after), say(r.change), r.verdict.replace("_", " "))
            for r in result.rows
        ]
    )
