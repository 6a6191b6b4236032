"""Repair reserve: the likely causes of trouble in such a piece, as things that may need repair."""

from collections.abc import Iterable

from outshop.diagnosis.case import Case
from outshop.diagnosis.diagnosis import diagnose
from outshop.market.bid import Repair

SHOWN = 6  # causes; the rest is too unlikely to move a bid
# Parts and material by group of causes, in units of about one hour's pocket money; judgement, no
# source. The person overtypes them.
COSTS = {
    "split_gear": 15.0,
    "worn_gear": 15.0,
    "coil_open": 35.0,
    "coil_short": 35.0,
    "weak_magnet": 20.0,
    "worn_brushes": 5.0,
    "brush_spring": 3.0,
    "traction_tyre": 4.0,
    "worn_pickup_shoe": 8.0,
    "reversing_unit": 30.0,
    "decoder_fault": 35.0,
    "motor_bearing": 20.0,
    "wheel_out_of_round_or_loose": 18.0,
    "zinc_pest": 60.0,
    "lamp_or_smoke_short": 5.0,
}
SMALL_MATERIAL = 1.0  # oil, swabs


def likely_repairs(
    system: str | None, decade: int | None, chance_of_trouble: float, most: int = SHOWN
) -> list[Repair]:
    """List what such a piece most often needs, by the diagnosis room's base rates.

    Parameters
    ----------
    system : str or None
        ``dc2``, ``ac3``, ``digital2`` ...; None is unknown.
    decade : int or None
    chance_of_trouble : float
        Chance, 0 to 1, that the piece does not run as it should.
    most : int
        Causes to list.
    """
    found = diagnose(Case(system=system, decade=decade))
    return [
        Repair(
            ranked.cause.name,
            min(1.0, ranked.probability * chance_of_trouble),
            COSTS.get(ranked.cause.group, SMALL_MATERIAL),
            ranked.cause.minutes,
        )
        for ranked in found.causes[:most]
    ]


def expected_reserve(repairs: Iterable[Repair], hour_worth: float) -> float:
    """Give the mean cost of repair, own time at ``hour_worth`` an hour."""
    return sum(r.chance * (r.cost + r.minutes / 60 * hour_worth) for r in repairs)
