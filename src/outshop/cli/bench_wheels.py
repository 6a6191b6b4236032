"""``outshop bench wheels``: a wheel set against a standard."""

from typing import Annotated

import typer

from outshop.cli.output import print_json, print_rows, say, warn

_LIST = "mm; several readings with commas, such as 14.2,14.3,14.2"


def command(
    gauge_mm: Annotated[str, typer.Option(help="Track gauge, mm.")],
    standard: Annotated[
        str, typer.Option(help="NEM310, NEM310:1977, NEM310G, S-4.2 or RP-25.")
    ] = "NEM310",
    size: Annotated[
        str, typer.Option(help="Scale or contour code where a gauge has several, such as Nn3.")
    ] = "",
    back_to_back: Annotated[str, typer.Option(help=f"Between wheel backs, {_LIST}.")] = "",
    check_gauge: Annotated[str, typer.Option(help=f"Back to flange face, {_LIST}.")] = "",
    flange_height: Annotated[str, typer.Option(help=f"Height of the flange, {_LIST}.")] = "",
    flange_thickness: Annotated[str, typer.Option(help=f"Thickness of the flange, {_LIST}.")] = "",
    tyre_width: Annotated[str, typer.Option(help=f"Width of the tyre, {_LIST}.")] = "",
    run_out: Annotated[str, typer.Option(help="Swing of a dial gauge over one turn, mm.")] = "",
    caliper_mm: Annotated[float, typer.Option(help="95 % error of one caliper reading.")] = 0.03,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Judge a wheel set: in, or out by how much, and what to do."""
    from outshop.bench.gauges.wheels import WORDS, measure
    from outshop.bench.readings import number_list, quantity

    given = {
        "back_to_back": back_to_back,
        "check_gauge": check_gauge,
        "flange_height": flange_height,
        "flange_thickness": flange_thickness,
        "tyre_width": tyre_width,
    }
    result = measure(
        standard,
        quantity(gauge_mm, "mm")[0],
        {name: number_list(text, "mm") for name, text in given.items() if text.strip()},
        size=size,
        run_out_mm=quantity(run_out, "mm")[0] if run_out.strip() else None,
        caliper_mm=caliper_mm,
    )
    if json:
        print_json(result.as_json())
        return
    for warning in result.warnings:
        warn(warning)
    print_rows([("verdict", result.verdict)])
    print_rows(
        [
            (WORDS[c.name], say(c.value, 4), f"{_span(c.limit.low_mm, c.limit.high_mm)}", c.verdict)
            for c in result.checks
        ]
    )
    print_rows([("wobble", say(result.wobble)), ("run-out", say(result.run_out))])
    for advice in result.advice:
        print(f"- {advice}")


def _span(low: float | None, high: float | None) -> str:
    if low is None or high is None:
        return f"at most {high:g} mm" if low is None else f"at least {low:g} mm"
    return f"{low:g} to {high:g} mm"
