"""The axle diagram as pages show it: what was found becomes marks, each axle may be a link."""

from collections.abc import Callable, Iterable, Mapping

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from outshop.errors import NotationError
from outshop.railway import arrangement as arrangements
from outshop.reports.axles import AxleMark, AxleSpot, arrangement_diagrams
from outshop.workshop import parts


def marks_of(states: Iterable[tuple[str, str]]) -> dict[str, AxleMark]:
    """Turn pairs of axle label and state into marks; a state that is unknown stays a word."""
    known = {state.id: state for state in parts.axle_states()}
    marks = {}
    for label, name in states:
        state = known.get(name)
        marks[label] = AxleMark(_(state.name), state.gravity) if state else AxleMark(name, "watch")
    return marks


def drawing(
    text: str,
    marks: Mapping[str, AxleMark],
    *,
    link: Callable[[str], str] | None = None,
    current: str | None = None,
) -> SafeString:
    """Draw an arrangement that is kept; nothing if it is empty or cannot be read any more."""
    try:
        arrangement = arrangements.parse(text, hauled=True)
    except NotationError:
        return mark_safe("")
    svgs = arrangement_diagrams(
        arrangement,
        marks,
        titles={"engine": _("Engine"), "tender": _("Tender"), "trailer": _("Trailer")},
        link=link,
        current=current,
        describe=axle_name,
    )
    return mark_safe("".join(svgs))  # noqa: S308 - the drawing escapes what people wrote


def axle_name(spot: AxleSpot) -> str:
    """Name an axle for a person who cannot see the drawing."""
    if spot.driven:
        return _("driven axle %(key)s") % {"key": spot.key}
    return _("carrying axle %(key)s") % {"key": spot.key}


def labels(text: str) -> list[str]:
    """Give the axle labels of an arrangement from front to rear; none if it cannot be read."""
    try:
        return [axle.label for axle in arrangements.parse(text, hauled=True).axles]
    except NotationError:
        return []


def axles(text: str) -> list[tuple[str, bool]]:
    """Give each axle's label and whether it is driven; none if it cannot be read."""
    try:
        return [(axle.label, axle.driven) for axle in arrangements.parse(text, hauled=True).axles]
    except NotationError:
        return []
