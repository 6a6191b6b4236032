"""Kinds of wagons and coaches in words, for lists and forms."""

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

NAMES = {
    "coach-1": gettext_noop("coach, first class"),
    "coach-12": gettext_noop("coach, first and second class"),
    "coach-2": gettext_noop("coach, second class"),
    "coach-23": gettext_noop("coach, second and third class"),
    "coach-3": gettext_noop("coach, third class"),
    "coach-4": gettext_noop("coach, fourth class"),
    "coach-brake": gettext_noop("coach with brake compartment"),
    "coach": gettext_noop("coach of any class"),
    "dining": gettext_noop("dining car"),
    "sleeping": gettext_noop("sleeping car"),
    "observation": gettext_noop("observation car"),
    "trailer": gettext_noop("trailer of a railcar"),
    "luggage": gettext_noop("luggage van"),
    "mail": gettext_noop("mail van"),
    "express-parcels": gettext_noop("express parcels van"),
    "brake-van": gettext_noop("brake van"),
    "caboose": gettext_noop("caboose"),
    "covered": gettext_noop("covered wagon"),
    "open": gettext_noop("open wagon"),
    "flat": gettext_noop("flat wagon"),
    "stake": gettext_noop("stake wagon"),
    "tank": gettext_noop("tank wagon"),
    "refrigerated": gettext_noop("refrigerated wagon"),
    "livestock": gettext_noop("livestock wagon"),
    "hopper": gettext_noop("hopper wagon"),
    "container": gettext_noop("container wagon"),
    "timber": gettext_noop("timber wagon"),
    "salt": gettext_noop("salt wagon"),
    "beer": gettext_noop("beer wagon"),
    "crane": gettext_noop("crane wagon"),
    "works": gettext_noop("works wagon"),
    "snow-plough": gettext_noop("snow plough"),
    "other": gettext_noop("other"),
}


def kind_name(kind: str) -> str:
    """Give the name of a kind; one that nobody knows is shown as it is."""
    known = NAMES.get(kind)
    return _(known) if known else kind


GROUPS = {
    "any": gettext_noop("anything"),
    "family:coach": gettext_noop("coaches of all kinds"),
    "family:goods": gettext_noop("goods wagons of all kinds"),
    "family:van": gettext_noop("luggage, mail and parcels vans"),
    "family:brake": gettext_noop("brake vans of all kinds"),
    "family:service": gettext_noop("works vehicles of all kinds"),
    "family:other": gettext_noop("other vehicles"),
    "is:dangerous": gettext_noop("those with dangerous goods"),
    "is:foreign": gettext_noop("foreign ones"),
    "is:braked": gettext_noop("braked ones"),
    "is:unbraked": gettext_noop("unbraked ones"),
    "is:loaded": gettext_noop("loaded ones"),
    "is:empty": gettext_noop("empty ones"),
    "is:heated": gettext_noop("those with steam heating"),
    "is:unheated": gettext_noop("those without steam heating"),
    "is:pool": gettext_noop("wagons of an international pool"),
    "is:not-pool": gettext_noop("wagons of no pool"),
}


def selector_name(selector: str) -> str:
    """Give what a selector of a recipe names."""
    known = GROUPS.get(selector)
    return _(known) if known else kind_name(selector)
