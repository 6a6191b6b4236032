"""outshop check: whether everything is there, and as it was."""

from typing import Annotated

import typer

from outshop.cli.output import print_json, warn


def command(
    quick: Annotated[
        bool, typer.Option("--quick", help="Compare sizes only; do not read the files.")
    ] = False,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Look for missing, changed and orphaned files and for broken rows; change nothing.

    Exit code 1 when something is wrong.
    """
    from outshop.site import start

    with start.collection(new=False):
        from dataclasses import asdict

        from outshop.records.checking import check

        problems = check(quick=quick, progress=None if json else lambda what: warn(f"{what} ..."))
        if json:
            print_json({"problems": [asdict(p) for p in problems], "sound": not problems})
        else:
            for problem in problems:
                print(f"{problem.fault.replace('_', ' ')}: {problem.sentence}")
            print(f"{len(problems)} problems" if problems else "everything is there, as it was")
    if problems:
        raise typer.Exit(1)
