"""outshop export: the collection in open formats."""

from pathlib import Path
from typing import Annotated

import typer

from outshop.cli.output import warn


def command(
    file: Annotated[Path, typer.Argument(help="The file to write.")],
    csv: Annotated[
        bool, typer.Option("--csv", help="Write the table of pieces as CSV, without the rest.")
    ] = False,
    replace: Annotated[
        bool, typer.Option("--replace", help="Overwrite a file of that name.")
    ] = False,
) -> None:
    """Write everything into one open archive: a zip of JSON files and of the kept files.

    Its form is described in docs/methods/records.md.
    """
    from outshop.site import start

    with start.collection(new=False):
        from outshop.records.archive import exporting, table, zipped

        if csv:
            zipped.refuse_existing(file, replace=replace)
            exporting.write_text(file, table.write_table())
            missing: list[str] = []
        else:
            missing = exporting.export_archive(file, replace=replace)
    for sentence in missing:
        warn(sentence)
    print(f"{file}: written, {file.stat().st_size / 1e6:.1f} MB")
