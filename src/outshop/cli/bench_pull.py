"""``outshop bench pull``: what an engine pulls on the level."""

from typing import Annotated

import typer

from outshop.cli.output import print_json, print_rows, say
from outshop.errors import InputError


def command(
    weights_g: Annotated[str, typer.Option(help="Largest weights lifted, g.")] = "",
    step_g: Annotated[float, typer.Option(help="Smallest weight or step of the scale, g.")] = 5.0,
    spring_n: Annotated[str, typer.Option(help="Readings of a spring scale, N.")] = "",
    rest_g: Annotated[float | None, typer.Option(help="Weight on a letter scale, g.")] = None,
    pulled_g: Annotated[str, typer.Option(help="What it shows while pulled, g.")] = "",
    mass_g: Annotated[float | None, typer.Option(help="Mass of the engine, g.")] = None,
    driven_mass_g: Annotated[float | None, typer.Option(help="On the driven wheels, g.")] = None,
    limit: Annotated[str, typer.Option(help="What ended it: slips or stalls.")] = "unknown",
    tyres: Annotated[bool | None, typer.Option(help="Traction tyres fitted.")] = None,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Find the pull from weights on a string, a spring scale or a letter scale."""
    from outshop.bench.gauges import pull
    from outshop.bench.readings import number_list

    if limit not in ("slips", "stalls", "unknown"):
        message = f"--limit must be slips, stalls or unknown; got {limit!r}"
        raise InputError(message)
    if weights_g:
        found = pull.from_weights(number_list(weights_g, "g"), step_g=step_g)
    elif spring_n:
        found = pull.from_spring(number_list(spring_n, "N"))
    elif pulled_g and rest_g is not None:
        found = pull.from_letter_scale(rest_g, number_list(pulled_g, "g"))
    else:
        message = "give --weights-g, or --spring-n, or --rest-g with --pulled-g"
        raise InputError(message)
    result = pull.judge(
        found,
        mass_g=mass_g,
        driven_mass_g=driven_mass_g,
        limit=limit,  # type: ignore[arg-type]  # checked above
        tyres=tyres,
    )
    if json:
        print_json(result.as_json())
        return
    print_rows([("pull", say(result.pull_g)), ("of the driven weight", say(result.adhesion))])
    for sentence in result.sentences:
        print(f"- {sentence}")
