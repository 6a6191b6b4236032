"""``outshop date``: years from evidence."""

from pathlib import Path
from typing import Annotated

import typer

from outshop.cli.output import print_json, print_rows, read_text, warn


def command(
    evidence: Annotated[Path, typer.Argument(metavar="EVIDENCE.toml", help="Evidence file.")],
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Say when a model was made and which years it shows, and what does not fit."""
    from outshop.dating.answer import answer_case
    from outshop.dating.eras import eras_of
    from outshop.dating.evidence import read_case

    case = read_case(read_text(evidence))
    answers = answer_case(case)
    shown = answers["prototype"]
    eras = eras_of(shown, case.countries) if shown.indices else []
    if as_json:
        document = {about: found.as_json() for about, found in answers.items()}
        print_json({**document, "eras": eras, "warnings": list(case.warnings)})
        return
    for sentence in case.warnings:
        warn(sentence)
    for about, found in answers.items():
        if not found.indices:
            continue
        spans = ", ".join(f"{a}" if a == b else f"{a} to {b}" for a, b in found.spans)
        print(f"{about}: {spans} (95 %)")
        for members in found.conflicts.set_aside:
            names = "; ".join(case.evidence[i].what for i in members)
            print(f"  does not fit unless set aside: {names}")
    print_rows([[f"era {e['era']}", e["norm"], f"{e['share']:.0%}"] for e in eras])
