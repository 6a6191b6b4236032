"""``outshop diagnose``: from what was seen and measured to causes and the next check."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from outshop.diagnosis.diagnosis import Diagnosis

_SHOWN = 8


def command(
    case: Annotated[Path, typer.Argument(help="TOML file: [model], [observed], [measured].")],
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
    knowledge: Annotated[
        list[Path] | None,
        typer.Option("--knowledge", help="Folder of added causes, signs and checks."),
    ] = None,
    learnt: Annotated[
        Path | None, typer.Option("--learnt", help="JSON file of counts from closed jobs.")
    ] = None,
) -> None:
    """Rank the causes of a trouble and name the next check."""
    from outshop.cli.output import print_json, read_text, warn
    from outshop.diagnosis.case import read_case
    from outshop.diagnosis.diagnosis import diagnose
    from outshop.diagnosis.learning import Experience
    from outshop.diagnosis.load import load_knowledge, shipped_knowledge

    known = load_knowledge(*knowledge) if knowledge else shipped_knowledge()
    base = None
    if learnt is not None:
        base = Experience().imported(learnt.name, read_text(learnt)).weights(known)
    found = diagnose(read_case(read_text(case), known), known, base)
    if json:
        print_json(found.as_json())
        return
    for sentence in (*(c.says for c in found.conflicts), *found.notes):
        warn(sentence)
    _print(found)


def _print(found: "Diagnosis") -> None:
    from outshop.cli.output import print_rows

    for stop in found.stop:
        print(f"STOP  {stop.says}")
    if found.stop:
        print()
    if not found.case.items:
        print("Nothing observed yet: these are the odds before any look.\n")
    print("Causes (several may be true at once)")
    print_rows(
        [f"{100 * c.probability:5.1f} %", c.cause.name, _why(c.because)]
        for c in found.causes[:_SHOWN]
    )
    print("\nNext check")
    print_rows(
        [f"{n.check.minutes:g} min", n.check.name, f"{n.bits:.2f} bits"]
        for n in found.next_checks[:3]
    )


def _why(reasons: "tuple[object, ...]") -> str:
    words = [
        f"{'+' if r.log_odds > 0 else '-'} {'' if r.answer != 'no' else 'not: '}{r.asks}"  # type: ignore[attr-defined]
        for r in reasons[:2]
    ]
    return "; ".join(words)
