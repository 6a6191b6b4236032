"""``outshop formation``: what to put behind this engine."""

from pathlib import Path
from typing import Annotated

import typer

from outshop.cli.output import print_json, print_rows, read_text, warn


def command(
    scene: Annotated[Path, typer.Argument(help="Scene file (TOML): line, locomotive, shelf.")],
    aim: Annotated[
        str, typer.Option("--aim", help="longest, or believable (needs a recipe to say much).")
    ] = "longest",
    count: Annotated[int, typer.Option("--count", min=1, help="Different trains wanted.")] = 1,
    recipes: Annotated[
        Path | None, typer.Option("--recipes", help="Folder with recipes of your own (TOML).")
    ] = None,
    seconds: Annotated[
        float, typer.Option("--seconds", min=0.1, help="Time for the first train and its proof.")
    ] = 8.0,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Make up the best train from the shelf that hauls, fits and couples."""
    from outshop.formation.compose import compose
    from outshop.formation.reading import read_scene
    from outshop.formation.recipes import added

    own = added(recipes) if recipes else None
    answer = compose(read_scene(read_text(scene)), aim, count, recipes=own, seconds=seconds)
    for sentence in answer.warnings:
        warn(sentence)
    if json:
        for sentence in answer.infeasible.why if answer.infeasible else ():
            warn(f"no train: {sentence}")
        print_json(answer.as_json())
        return
    if answer.infeasible:
        print_rows(
            [
                ["no train", ""],
                *(["because", w] for w in answer.infeasible.why),
                *(["would help", w] for w in answer.infeasible.smallest_fix),
            ]
        )
    for number, train in enumerate(answer.trains, 1):
        haul = train.haul
        print_rows(
            [
                [f"train {number}", f"{len(train.vehicles)} vehicles, {haul.length_mm:g} mm"],
                ["needs", f"{haul.needed_g:.1f} g of {haul.available_g:.1f} g"],
                ["margin", f"{haul.margin_percent:.0f} %"],
                ["score", f"{train.score:.0f}"],
                *(
                    ["", f"{v.name}{' (turned)' if back else ''}"]
                    for v, back in zip(train.vehicles, train.turned, strict=True)
                ),
                *(
                    ["met" if j.met else "not met", f"{j.rule.why} ({j.rule.strength})"]
                    for j in train.judged
                ),
            ]
        )
    if answer.trains:
        print("proven best" if answer.proven_best else f"not proven best; at most {answer.most}")
