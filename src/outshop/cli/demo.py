"""``outshop demo``: the application with an invented collection."""

import os
from pathlib import Path
from typing import Annotated

import typer

MARK = "this-is-the-demo.txt"


def command(
    port: Annotated[
        int | None, typer.Option(help="Listen on this port; else 8642 or the next free one.")
    ] = None,
    browser: Annotated[
        bool, typer.Option("--browser/--no-browser", help="Show the pages in the browser at once.")
    ] = True,
    serve: Annotated[
        bool, typer.Option("--serve/--no-serve", help="Only build the collection with --no-serve.")
    ] = True,
) -> None:
    """Start the application with a demo collection in which everything is invented.

    The demo lies in a folder of its own; your collection is not touched.
    """
    home = _demo_home()
    os.environ["OUTSHOP_HOME"] = str(home)
    from outshop.site import start

    with start.collection():
        from outshop.demo.build import build
        from outshop.records.models import Piece

        if not Piece.objects.exists():
            (home / MARK).write_text("Everything in this collection is invented.\n", "utf-8")
            build(say=_say)
        if serve:
            from outshop.site.serve import serve as serve_pages

            serve_pages(port=port, browser=browser, say=_say)


def _demo_home() -> Path:
    """Choose the demo's folder; never one that holds a person's own collection."""
    from platformdirs import user_cache_path

    from outshop.errors import InputError

    chosen = os.environ.get("OUTSHOP_HOME")
    home = Path(chosen) if chosen else user_cache_path("outshop-demo")
    if home.is_dir() and any(home.iterdir()) and not (home / MARK).exists():
        message = f"{home} holds something else: set OUTSHOP_HOME to an empty folder for the demo"
        raise InputError(message)
    home.mkdir(parents=True, exist_ok=True)
    (home / MARK).touch()
    return home


def _say(sentence: str) -> None:
    print(sentence, flush=True)
