"""outshop worker: measure recordings in the background."""

import os
import threading
from typing import Annotated

import typer


def command(
    once: Annotated[bool, typer.Option("--once", help="Do what is waiting, then stop.")] = False,
    while_parent_lives: Annotated[bool, typer.Option("--while-parent-lives", hidden=True)] = False,
) -> None:
    """Measure what waits; `outshop open` starts one, more may run on other machines.

    More than one needs the shared database of OUTSHOP_DATABASE_URL and a shared OUTSHOP_HOME.
    """
    from outshop.site import start

    if while_parent_lives:
        threading.Thread(target=_end_with_parent, daemon=True).start()
    with start.collection():
        from django.core.management import call_command

        call_command("db_worker", interval=0.5, batch=once, startup_delay=False, verbosity=0)


def _end_with_parent() -> None:
    """Wait for the end of the input that the parent holds open, then end at once."""
    # not sys.stdin: its lock would be held when the interpreter shuts down
    while os.read(0, 4096):
        pass
    os._exit(0)
