"""``outshop ruler``: a sheet with ruler strips that the motion bench finds in a clip."""

from pathlib import Path
from typing import Annotated

import typer

from outshop.errors import StoreError


def command(
    out: Annotated[Path, typer.Argument(help="Where the PDF goes.")] = Path("ruler.pdf"),
) -> None:
    """Write a sheet of A4 with ruler strips to be printed true to scale and filmed."""
    from outshop.reports.ruler_strip import ruler_sheet

    try:
        out.write_bytes(ruler_sheet())
    except OSError as problem:
        message = f"{out} cannot be written ({problem.strerror}): choose another place"
        raise StoreError(message) from problem
    typer.echo(
        f"{out}: print it at 100 %, without fitting it to the page, and check that the control "
        "line measures 100 mm"
    )
