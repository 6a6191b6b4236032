"""outshop restore: bring a backup back."""

from pathlib import Path
from typing import Annotated

import typer

from outshop.cli.output import existing_file


def command(
    file: Annotated[Path, typer.Argument(help="A backup made by outshop backup.")],
    replace: Annotated[
        bool,
        typer.Option(
            "--replace", help="Move the collection that is there aside, and take its place."
        ),
    ] = False,
) -> None:
    """Bring a backup back into an empty folder; everything is checked first."""
    from outshop.site import start

    existing_file(file)
    home = start.load()
    from outshop.records.archive.restore import restore
    from outshop.site import lock

    with lock.hold(home):
        files = restore(file, replace=replace)
    print(f"restored into {home} with {files} files")
