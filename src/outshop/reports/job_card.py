"""The job card as PDF, to be ticked with a pencil where no phone should lie."""

from collections.abc import Collection, Mapping, Sequence
from itertools import groupby

from outshop.reports.printing import print_pdf
from outshop.reports.sheet import Fact
from outshop.workshop.cautions import Caution, defer
from outshop.workshop.job_card import CardStep, JobCard

PHASES = {
    "prepare": "Before",
    "strip-down": "Strip down",
    "work": "Work",
    "reassembly": "Put together",
    "test": "Function test",
    "run-in": "Run in",
    "close": "Close",
}


def job_card(
    card: JobCard,
    *,
    title: str,
    number: str = "",
    identity: Sequence[Fact] = (),
    done: Collection[str] = (),
    notes: Mapping[str, str] | None = None,
    diagram_svg: str = "",
) -> bytes:
    """Print the card.

    Parameters
    ----------
    card : JobCard
        The work in order.
    title, number : str
        Name of the piece and number of the card.
    identity : sequence of Fact
        Cells of the title block.
    done : collection of str
        Keys of the steps already ticked.
    notes : mapping of str to str, optional
        What was written at a step, by its key.
    diagram_svg : str
        The axle diagram to print on top, with print colours; empty for none.

    Returns
    -------
    bytes
        A PDF; a caution's full text stands at its first step, its title at later ones.
    """
    told: set[str] = set()
    numbers = {step.key: n for n, step in enumerate(card.steps, start=1)}
    phases = []
    for phase, group in groupby(card.steps, key=lambda step: step.phase):
        steps = list(group)
        lines = [
            {
                "number": numbers[step.key],
                "title": step.title,
                "text": step.text,
                "minutes": f"{step.minutes:.0f}",
                "photo": step.photo,
                "done": step.key in done,
                "note": (notes or {}).get(step.key, ""),
                "cautions": _cautions(step, told),
            }
            for step in steps
        ]
        minutes = f"{sum(step.minutes for step in steps):.0f}"
        phases.append({"name": PHASES[phase], "minutes": minutes, "steps": lines})
    data = {
        "title": title.strip() or "Unnamed piece",
        "number": number,
        "identity": [{"label": f.label, "value": f.value} for f in identity],
        "stop_signs": card.stop_signs,
        "reasons": card.reasons,
        "unanswered": card.unanswered,
        "tools": card.tools or ("nothing",),
        "consumables": card.consumables or ("nothing",),
        "phases": phases,
        "defer": defer(),
        "diagram": "diagram.svg" if diagram_svg else None,
    }
    pictures = {"diagram.svg": diagram_svg.encode()} if diagram_svg else {}
    return print_pdf("job_card", data, pictures)


def _cautions(step: CardStep, told: set[str]) -> list[dict[str, object]]:
    """Give the step's cautions; those told before on the card by title only."""

    def shape(c: Caution) -> dict[str, object]:
        first = c.id not in told
        told.add(c.id)
        return {"title": c.title, "people": c.hurts_people, "text": c.text if first else ""}

    return [shape(c) for c in step.caution_list]
