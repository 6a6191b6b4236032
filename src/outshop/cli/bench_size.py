"""``outshop bench size``: mass and dimensions against rules and full size."""

from typing import Annotated

import typer

from outshop.cli.output import print_json, print_rows, say
from outshop.errors import InputError


def command(
    scale: Annotated[str, typer.Option(help="Name or ratio, such as H0 or 1:87.")],
    mass_g: Annotated[float | None, typer.Option(help="Mass of the wagon, g.")] = None,
    length_mm: Annotated[float | None, typer.Option(help="Length over buffers, mm.")] = None,
    pair: Annotated[
        list[str] | None,
        typer.Option(help="name=model/full size, both mm, such as length=230/21000; repeatable."),
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Check a wagon's mass and a model's proportions."""
    from outshop.bench.gauges.proportions import check_mass, check_proportions
    from outshop.railway.scales import scale as find_scale

    of = find_scale(scale)
    masses = []
    if mass_g is not None:
        if length_mm is None:
            message = "the rules for mass go by length: give --length-mm too"
            raise InputError(message)
        masses = check_mass(mass_g, length_mm, of.name)
    sizes = check_proportions(dict(_pair(p) for p in pair or []), of)
    if not masses and not sizes:
        message = "give --mass-g with --length-mm, or --pair name=model/full"
        raise InputError(message)
    if json:
        print_json(
            {"mass": [m.as_json() for m in masses], "proportions": [s.as_json() for s in sizes]}
        )
        return
    print_rows([(m.rule.rule, f"{m.rule.mass_g:.0f} g", m.verdict) for m in masses])
    print_rows(
        [(s.name, say(s.error_percent), f"1:{s.effective_ratio.value:.1f}", s.why) for s in sizes]
    )


def _pair(text: str) -> tuple[str, tuple[float, float]]:
    from outshop.bench.readings import quantity

    name, equals, values = text.partition("=")
    model, slash, full = values.partition("/")
    if not (equals and slash):
        message = f"{text!r} is no pair: write it like length=230/21000"
        raise InputError(message)
    return name.strip(), (quantity(model, "mm")[0], quantity(full, "mm")[0])
