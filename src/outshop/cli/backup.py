"""outshop backup: everything into one file."""

from pathlib import Path
from typing import Annotated

import typer

from outshop.cli.output import warn


def command(
    file: Annotated[Path, typer.Argument(help="The backup to write.")],
    replace: Annotated[
        bool, typer.Option("--replace", help="Overwrite a file of that name.")
    ] = False,
) -> None:
    """Write the collection, with every kept file, into one backup.

    The pages may be in use meanwhile.
    """
    from outshop.site import start

    with start.collection(new=False):
        from outshop.records.archive.backup import back_up

        done = back_up(file, replace=replace)
    for sentence in done.warnings:
        warn(sentence)
    print(f"{file}: the collection and {done.files} files, {done.size / 1e6:.1f} MB")
