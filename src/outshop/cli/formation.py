"""``outshop formation``: what to put behind this engine."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from outshop.cli.output import print_json, print_rows, read_text, warn

if TYPE_CHECKING:
    from outshop.formation.compose import Composition
    from outshop.formation.timetable import Timetable


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
    lacking: Annotated[
        bool, typer.Option("--missing", help="Also rank what is missing on the shelf.")
    ] = False,
    also: Annotated[
        list[Path] | None,
        typer.Option("--also", help="Another scene of the same shelf: fill a timetable of all."),
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Make up the best train from the shelf that hauls, fits and couples."""
    from outshop.formation.compose import compose
    from outshop.formation.missing import missing
    from outshop.formation.reading import read_scene
    from outshop.formation.recipes import added, find_recipe
    from outshop.formation.timetable import fill_timetable

    own = added(recipes) if recipes else None
    read = read_scene(read_text(scene))
    if also:
        scenes = [read, *(read_scene(read_text(path)) for path in also)]
        print_timetable(fill_timetable(scenes, aim, recipes=own, seconds=seconds), json)
        return
    answer = compose(read, aim, count, recipes=own, seconds=seconds)
    recipe = find_recipe(read.wish.recipe, own) if read.wish.recipe else None
    wanted = missing(read, recipe, seconds) if lacking else ()
    for sentence in answer.warnings:
        warn(sentence)
    if json:
        for sentence in answer.infeasible.why if answer.infeasible else ():
            warn(f"no train: {sentence}")
        gains = [
            {"kind": w.kind, "score_gain": w.score_gain, "vehicles_gain": w.vehicles_gain}
            for w in wanted
        ]
        print_json(answer.as_json() | ({"missing": gains} if lacking else {}))
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
        print(_how_good(answer))
    print_rows([["missing", w.sentence] for w in wanted])


def _how_good(answer: "Composition") -> str:
    """Say what is proven of the first train, and what the ties between equals leave open."""
    proof = answer.proof
    if proof is None:
        return "not proven best"
    open_gap = next((key for key, lack in proof.gap.items() if lack), None)
    if open_gap is None:
        return "proven best"
    figure = f"{open_gap.removesuffix('_mm')} {proof.here[open_gap]:g}, at most "
    figure += f"{proof.most[open_gap]:g}{' mm' if open_gap == 'length_mm' else ''}"
    if proof.best:
        return f"proven best by its score; among trains of that score: {figure}"
    return f"not proven best: {figure}"


def print_timetable(filled: "Timetable", json: bool) -> None:
    """Print several trains that share no vehicle."""
    if json:
        print_json(filled.as_json())
        return
    for number, train in enumerate(filled.trains, 1):
        names = ", ".join(v.name for v in train.vehicles) if train else "nothing is left for it"
        print_rows([[f"train {number}", names]])
    if filled.proven:
        print("proven best")
    else:
        most = filled.at_most
        print(
            f"not proven best; {filled.worth.vehicles} vehicles, at most {most.vehicles}"
            + (f"; score {filled.worth.score:.0f}, at most {most.score:.0f}" if most.score else "")
        )
