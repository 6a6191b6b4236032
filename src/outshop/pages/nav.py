"""The places in the head of every page; a room adds its own line when its page exists."""

from dataclasses import dataclass

from django.urls import reverse
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _


@dataclass(frozen=True, slots=True)
class Place:
    """One place: its URL name and what it is called."""

    url_name: str
    name: str | Promise
    more: tuple[str, ...] = ()  # beginnings of other addresses that belong to it


PLACES: tuple[Place, ...] = (
    Place("bench", _("Bench")),
    Place("shelf", _("Shelf")),
    Place("offers", _("Offers")),
    Place(
        "trains",
        _("Trains"),
        ("/train/", "/line/", "/lines/", "/vehicle/", "/vehicles/", "/recipe/", "/recipes/"),
    ),
    Place("care", _("Care")),
)


@dataclass(frozen=True, slots=True)
class NavLink:
    """One line of the head as it stands on a page."""

    address: str
    name: str | Promise
    here: bool


def links(path: str) -> list[NavLink]:
    """Give the head's links; the longest address that the path begins with is where one is."""
    addresses = {reverse(place.url_name): place for place in PLACES}
    begun: dict[str, str] = {}
    for address, place in addresses.items():
        for beginning in (address, *place.more):
            if path == beginning or (beginning != "/" and path.startswith(beginning)):
                begun[beginning] = address
    here = begun[max(begun, key=len)] if begun else ""
    return [NavLink(a, place.name, a == here) for a, place in addresses.items()]
