"""The consist card: one train on one sheet, for the layout."""

from collections.abc import Sequence
from datetime import date

from outshop.formation.assess import Assessment
from outshop.formation.scene import Vehicle
from outshop.reports.printing import print_pdf
from outshop.reports.train import Body, train_svg

# ink for paper: the same classes as on the page
PRINT_STYLE = (
    "<style>.ink{fill:none;stroke:#17262b;stroke-width:1.4}.thin{stroke-width:.8}"
    ".rail{stroke:#5b6b6e}.label{font:13px sans-serif;fill:#17262b;text-anchor:middle}"
    ".touch{fill:none}.stop{stroke:#a52a1d}</style>"
)


def consist_card(
    assessment: Assessment,
    train: Sequence[Vehicle],
    *,
    title: str,
    engine_name: str,
    engine_length_mm: float,
    day: date,
) -> bytes:
    """Print the card as PDF.

    Parameters
    ----------
    assessment : Assessment
        The three tests of this train.
    train : sequence of Vehicle
        From the engine backwards.
    title, engine_name : str
        What stands in the title block.
    engine_length_mm : float
        To draw it.
    day : date
        Date on the sheet.
    """
    haul = assessment.haul
    bodies = [
        Body(engine_name, "engine", engine_length_mm),
        *(Body(v.name, v.kind, v.length_mm) for v in train),
    ]
    drawing = train_svg(bodies, title=title)
    head, rest = drawing.split(">", 1)
    namespace = ' xmlns="http://www.w3.org/2000/svg"'
    data = {
        "title": title,
        "date": [day.year, day.month, day.day],
        "identity": [
            {"label": "Engine", "value": engine_name},
            {"label": "Length", "value": f"{haul.length_mm:.0f} mm"},
            {"label": "Needs", "value": f"{haul.needed_g:.1f} g of {haul.available_g:.1f} g"},
            {"label": "Left of the pull", "value": f"{haul.margin_percent:.0f} %"},
        ],
        "verdict": haul.verdict,
        "worst": f"Hardest with the head at {haul.head_mm:.0f} mm, in section {haul.section}.",
        "vehicles": [
            [str(n), v.name, v.kind, f"{v.length_mm:g} mm", f"{v.mass_g:g} g"]
            for n, v in enumerate(train, 1)
        ],
        "rules": [[("met" if j.met else "not met"), j.rule.why] for j in assessment.judged],
        "drawing": "train.svg",
    }
    svg = f"{head}{namespace}>{PRINT_STYLE}{rest}"
    return print_pdf("consist", data, {"train.svg": svg.encode()})
