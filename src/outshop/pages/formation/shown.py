"""What the page of one train shows."""

from dataclasses import dataclass
from typing import Any

from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from outshop.errors import InputError, NotationError
from outshop.formation.kinds import axles
from outshop.formation.rules import reason_for
from outshop.formation.scene import Vehicle
from outshop.formation.task import in_years
from outshop.pages.formation.judging import Desk, Judged, desk_of
from outshop.pages.formation.orders import read_order, standing
from outshop.railway import arrangement as arrangements
from outshop.records.models import Formation, Piece
from outshop.records.queries import formations as queries
from outshop.reports.force import Words, force_svg
from outshop.reports.train import Body, train_svg

# kinds of pieces that are drawn otherwise than a steam engine
ENGINES: dict[str, str] = {
    Piece.Kind.ELECTRIC: "engine-electric",
    Piece.Kind.DIESEL: "engine-diesel",
    Piece.Kind.RAILCAR: "engine-railcar",
}


@dataclass(frozen=True, slots=True)
class Standing:
    """One vehicle of a train as the page shows it."""

    number: int
    vehicle: Vehicle
    turned: bool
    reason: str
    against: str
    demand: str


@dataclass(frozen=True, slots=True)
class Compared:
    """One figure before and after a change; ``turn`` is better, worse or nothing."""

    name: str
    before: str
    now: str
    turn: str = ""


def shown(formation: Formation, *, before: str | None = None, place: int = 0) -> dict[str, Any]:
    """Gather what the page of one train shows.

    Parameters
    ----------
    formation : Formation
        The train.
    before : str, optional
        The order that stood before the last change.
    place : int
        The place that is at work, from 1; 0 for none.
    """
    if not formation.line.sections.exists():
        return {"formation": formation, "no_sections": True}
    desk = desk_of(formation)
    now = desk.judged(standing(formation))
    old = _earlier(desk, before)
    return {
        "formation": formation,
        "recipe": desk.recipe,
        "rows": rows_of(now, formation),
        "judged": now,
        "assessment": now.assessment,
        "haul": now.assessment.haul,
        "drawing": drawing(formation, now, place=place),
        "force": _force(now, old),
        "compression": now.assessment.compression,
        "compared": compared(old, now) if old else (),
        "before": before if old else None,
        "place": place,
    }


def rows_of(now: Judged, formation: Formation) -> list[Standing]:
    """Give each vehicle behind the engine with its reason, or with what speaks against it."""
    demands = queries.demands_of(formation)
    wish = now.scene.wish
    rows = []
    for n, (kept, vehicle, turned) in enumerate(
        zip(now.order.vehicles, now.vehicles, now.order.turned, strict=True), 1
    ):
        reason = reason_for(vehicle, now.assessment.judged, wish)
        if not reason and wish.year and vehicle.years and in_years(vehicle.years, wish.year):
            reason = _("ran in %(years)s") % {"years": vehicle.years}
        against = now.strange.get(vehicle.name, "")
        rows.append(Standing(n, vehicle, turned, reason, against, demands.get(kept.pk, "")))
    return rows


def bodies(formation: Formation, now: Judged, *, linked: bool = True) -> list[Body]:
    """Give a train as it is drawn."""
    engine = now.scene.locomotive
    wheels = 0
    if formation.piece and formation.piece.known_arrangement:
        try:
            wheels = arrangements.parse(formation.piece.known_arrangement).total_axles
        except NotationError:
            wheels = 0
    kind = ENGINES.get(formation.piece.kind, "engine") if formation.piece else "engine"
    found = [Body(engine.name, kind, engine.length_mm, wheels)]
    for n, (vehicle, turned) in enumerate(zip(now.vehicles, now.order.turned, strict=True), 1):
        link = reverse("train_place", args=[formation.pk, n]) if linked else ""
        mark = "stop" if vehicle.name in now.strange else ""
        number = axles(vehicle)
        found.append(
            Body(vehicle.name, vehicle.kind, vehicle.length_mm, number, turned, link, mark)
        )
    return found


def drawing(
    formation: Formation, now: Judged, *, linked: bool = True, place: int = 0
) -> SafeString:
    """Draw a train to scale."""
    svg = train_svg(
        bodies(formation, now, linked=linked), title=_("The train, drawn to scale"), chosen=place
    )
    return mark_safe(svg)  # noqa: S308 - made here, texts escaped


def compared(old: Judged, now: Judged) -> tuple[Compared, ...]:
    """Give what a change did to the three tests; what stayed the same is left out."""
    was, is_ = old.assessment, now.assessment
    yes, no = _("fits"), _("does not fit")
    share = is_.chance.probability - was.chance.probability
    told = (
        _figure(_("Needs"), was.haul.needed_g, is_.haul.needed_g, "g", less=True),
        _figure(_("Left of the pull"), was.haul.margin_percent, is_.haul.margin_percent, "%"),
        Compared(_("Chance to get round"), old.chance, now.chance, _turn(share)),
        _figure(_("Length"), was.haul.length_mm, is_.haul.length_mm, "mm", told=False),
        Compared(_("Fits the line"), yes if old.fits else no, yes if now.fits else no,
                 _turn(now.fits - old.fits)),
        _figure(_("Score"), old.score, now.score, ""),
        _figure(_("Against the rules"), old.forbidden, now.forbidden, "", less=True),
    )  # fmt: skip
    return tuple(c for c in told if c.before != c.now)


def _figure(
    name: str, old: float, now: float, unit: str, *, less: bool = False, told: bool = True
) -> Compared:
    places = 1 if unit == "g" else 0
    before, after = (f"{v:.{places}f} {unit}".strip() for v in (old, now))
    change = 0.0 if before == after or not told else (old - now if less else now - old)
    return Compared(name, before, after, _turn(change))


def _turn(change: float) -> str:
    return "better" if change > 0 else "worse" if change < 0 else ""


def _earlier(desk: Desk, before: str | None) -> Judged | None:
    if before is None:
        return None
    try:
        order = read_order(before)
    except InputError:
        return None  # a vehicle is gone since; nothing to compare with
    return desk.judged(order)


def _force(now: Judged, old: Judged | None) -> SafeString:
    svg = force_svg(
        now.scene, now.vehicles, title=_("Profile of the line, and the force needed along it"),
        words=Words(_("pull"), _("needs"), _("left")), before=old.vehicles if old else None,
    )  # fmt: skip
    return mark_safe(svg)  # noqa: S308 - made here, texts escaped
