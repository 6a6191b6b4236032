"""outshop open: the pages in the browser."""

import os
from typing import Annotated

import typer

from outshop.cli.output import warn


def command(
    port: Annotated[
        int | None, typer.Option(help="Listen on this port; else 8642 or the next free one.")
    ] = None,
    lan: Annotated[
        bool,
        typer.Option(
            "--lan",
            help="Let phones in the local network in, with a passphrase "
            "(asked for, or from OUTSHOP_PASSPHRASE).",
        ),
    ] = False,
    browser: Annotated[
        bool, typer.Option("--browser/--no-browser", help="Show the pages in the browser at once.")
    ] = True,
) -> None:
    """Open the collection: serve its pages on this machine until Ctrl-C.

    The collection lies in the folder named by OUTSHOP_HOME.
    """
    from outshop.site import start

    with start.collection():
        from outshop.site.lock import HomeInUseError
        from outshop.site.serve import serve

        try:
            serve(port=port, passphrase=_passphrase() if lan else None, browser=browser, say=_say)
        except HomeInUseError as problem:
            if not problem.address or not browser:
                raise
            warn(str(problem))
            typer.launch(problem.address)


def _passphrase() -> str:
    given = os.environ.get("OUTSHOP_PASSPHRASE")
    if given:
        return given
    return str(typer.prompt("Passphrase for the local network", hide_input=True))


def _say(sentence: str) -> None:
    print(sentence, flush=True)
