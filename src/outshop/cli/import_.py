"""outshop import: take in an archive or a table."""

import zipfile
from pathlib import Path
from typing import Annotated

import typer

from outshop.cli.output import existing_file, read_text, warn


def command(
    file: Annotated[
        Path, typer.Argument(help="An archive made by outshop export, or a CSV of pieces.")
    ],
) -> None:
    """Add what an archive or a table holds; what is there already stays as it is.

    All of it is taken in, or nothing.
    """
    from outshop.site import start

    existing_file(file)
    with start.collection():
        from outshop.records.archive import importing, table

        if zipfile.is_zipfile(file) or file.suffix.lower() == ".zip":
            done = importing.import_archive(file)
            added, known, warnings = done.added, done.known, done.warnings
        else:
            added, known = table.read_table(read_text(file))
            warnings = ()
    for sentence in warnings:
        warn(sentence)
    print(f"{added} added, {known} were there already")
