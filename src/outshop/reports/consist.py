"""The consist card: one train on one sheet, for the layout."""

from collections.abc import Sequence
from datetime import date

from outshop.formation.assess import Assessment
from outshop.formation.scene import Scene
from outshop.reports.force import Words, force_svg
from outshop.reports.printing import print_pdf
from outshop.reports.train import Body, train_svg

# ink for paper: the same classes as on the page
PRINT_STYLE = (
    "<style>.ink{fill:none;stroke:#17262b;stroke-width:1.3}.thin{stroke-width:.7}"
    ".rail{stroke:#5b6b6e}.label{font:10.5px sans-serif;fill:#17262b;text-anchor:middle}"
    ".line .label{font-size:14px}.label.start{text-anchor:start}"
    ".length,.lower{fill:#5b6b6e}.touch{fill:none;stroke:none}.spare{fill:#e4ebe7}"
    ".stop{fill:#a52a1d}.ring{fill:none;stroke-width:2.6}.ring.stop{stroke:#a52a1d;fill:none}"
    "</style>"
)
ROW_MM = 780.0  # model length on one row of the sheet
MANY = 9  # vehicles from which on the profile is drawn smaller, so that all stays on one sheet
VERDICTS = {"hauls": "It hauls.", "marginal": "It may just haul.", "stalls": "It stalls."}


def consist_card(
    assessment: Assessment,
    scene: Scene,
    bodies: Sequence[Body],
    *,
    title: str,
    line_name: str,
    kind: str,
    day: date,
    kinds: Sequence[str] = (),
    against: Sequence[str] = (),
) -> bytes:
    """Print the card as PDF.

    Parameters
    ----------
    assessment : Assessment
        The three tests of this train.
    scene : Scene
        Line, locomotive and, as its vehicles, the train from the engine backwards.
    bodies : sequence of Body
        The same train as it is drawn, the engine first.
    title, line_name, kind : str
        Name of the train, of its line, and its kind of train in words.
    day : date
        Date on the sheet.
    kinds : sequence of str
        Kind of each vehicle in words; by default as they are kept.
    against : sequence of str
        Why a vehicle may not run in such a train, a sentence each.
    """
    haul, wish = assessment.haul, scene.wish
    train = scene.vehicles
    identity = [
        ("Engine", scene.locomotive.name),
        ("Line", line_name),
        ("Kind of train", kind),
        ("Year", str(wish.year or "")),
        ("Vehicles", str(len(train))),
        ("Length", f"{haul.length_mm:.0f} mm" + (f" of {wish.loop_mm:g}" if wish.loop_mm else "")),
        ("Needs", f"{haul.needed_g:.1f} g of {haul.available_g:.1f} g"),
        ("Left of the pull", f"{haul.margin_percent:.0f} %"),
    ]
    words = list(kinds) or [v.kind for v in train]
    turned = [body.turned for body in bodies[1:]]
    data = {
        "title": title,
        "date": [day.year, day.month, day.day],
        "identity": [{"label": name, "value": value} for name, value in identity if value],
        "state": haul.verdict,
        "verdict": VERDICTS[haul.verdict],
        "worst": f"Hardest with the head at {haul.head_mm:.0f} mm, in section {haul.section}.",
        "misfits": [f.why for f in assessment.fits if f.met is False],
        "vehicles": [
            [str(n), v.name, w + (", turned round" if t else ""), f"{v.length_mm:g} mm",
             f"{v.mass_g:g} g"]
            for n, (v, w, t) in enumerate(zip(train, words, turned, strict=True), 1)
        ],
        "total": [f"{sum(v.length_mm for v in train):g} mm", f"{sum(v.mass_g for v in train):g} g"],
        "broken": [*against, *(j.rule.why for j in assessment.judged if not j.met)],
        "kept": [j.rule.why for j in assessment.judged if j.met],
        "cautions": [
            f"{p.vehicle} (place {p.position}) is pulled inward on the curve of "
            f"{p.radius_mm:.0f} mm."
            for p in assessment.pulled
        ],
        "profile_share": 1.7 if len(train) < MANY else 1.2,
        "drawing": "train.svg",
        "force": "force.svg",
    }  # fmt: skip
    force = force_svg(scene, train, title=title, words=Words("pull", "needs", "left"))
    files = {
        "train.svg": _for_paper(train_svg(bodies, title=title, row_mm=ROW_MM)),
        "force.svg": _for_paper(force),
    }
    return print_pdf("consist", data, files)


def _for_paper(svg: str) -> bytes:
    head, rest = svg.split(">", 1)
    return f'{head} xmlns="http://www.w3.org/2000/svg">{PRINT_STYLE}{rest}'.encode()
