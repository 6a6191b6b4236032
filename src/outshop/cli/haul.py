"""``outshop haul``: tell whether an engine can take a train over a line."""

from pathlib import Path
from typing import Annotated

import typer

from outshop.cli.output import print_json, print_rows, read_text, warn


def command(
    scene: Annotated[Path, typer.Argument(help="Scene file (TOML): line, locomotive, vehicles.")],
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Walk the train, in file order, over the line and find its worst place."""
    from outshop.formation.assess import assess
    from outshop.formation.reading import read_scene

    read = read_scene(read_text(scene))
    answer = assess(read)
    for sentence in answer.warnings:
        warn(sentence)
    if json:
        print_json(answer.as_json())
        return
    print_rows(answer.as_rows())
