"""The bench form: one page to fill in by pencil, in the order of the meter page."""

from collections.abc import Sequence

from outshop.reports.printing import print_pdf
from outshop.reports.sheet import Fact

CAUTIONS = (
    (
        "Before power: turn the motor by hand, look for brittle insulation, check for a dead short "
        "with the ohm-meter."
    ),
    "Hold a motor 1 to 2 s only, at low voltage: its winding heats within seconds. Parts stay hot.",
    (
        "Transformers stay closed, approved ones only; mains repair is for licensed persons. "
        "Local rules come first."
    ),
    "Small magnets: away from children, clocks and pacemakers.",
)


def bench_form(
    *,
    title: str,
    identity: Sequence[Fact] = (),
    segments: int = 3,
    axles: Sequence[str] = (),
    gauge_mm: float | None = None,
) -> bytes:
    """Print the form.

    Parameters
    ----------
    title : str
        Name of the piece.
    identity : sequence of Fact
        Cells of the title block.
    segments : int
        Of the commutator: one box for each pair of neighbours.
    axles : sequence of str
        Axle labels from front to rear; empty lines are printed if unknown.
    gauge_mm : float, optional
        Track gauge, printed at the wheels.

    Returns
    -------
    bytes
        A PDF of one page.
    """
    data = {
        "title": title.strip() or "Unnamed piece",
        "identity": [{"label": f.label, "value": f.value} for f in identity],
        "pairs": [f"{k}-{k % segments + 1}" for k in range(1, segments + 1)],
        "axles": list(axles) or ["", "", "", ""],
        "gauge": f"{gauge_mm:g}" if gauge_mm else "",
        "cautions": list(CAUTIONS),
    }
    return print_pdf("bench_form", data)
