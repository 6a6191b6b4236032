"""An order of vehicles as one short text: keys joined by ``-``, ``t`` after one that is turned."""

import re
from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from outshop.errors import InputError
from outshop.records.models import Formation, ShelfVehicle

ONE = re.compile(r"([0-9]{1,9})(t?)")


@dataclass(frozen=True, slots=True)
class Order:
    """Vehicles from the engine backwards, and which of them stand the other way round."""

    vehicles: tuple[ShelfVehicle, ...]
    turned: tuple[bool, ...]

    def __str__(self) -> str:
        """Write it as :func:`read_order` reads it."""
        return written([v.pk for v in self.vehicles], self.turned)


def written(keys: Sequence[int], turned: Sequence[bool]) -> str:
    """Write an order of vehicle keys."""
    return "-".join(f"{k}t" if t else str(k) for k, t in zip(keys, turned, strict=True))


def read_order(text: str) -> Order:
    """Read an order.

    Raises
    ------
    InputError
        It is no order, or names a vehicle that is no longer on the shelf.
    """
    found = [ONE.fullmatch(word) for word in text.split("-")] if text else []
    if not all(found):
        raise InputError(_("%(text)r is no order of vehicles.") % {"text": text[:60]})
    keys = [int(m[1]) for m in found if m]
    shelf = ShelfVehicle.objects.in_bulk(keys)
    gone = [k for k in keys if k not in shelf]
    if gone:
        raise InputError(_("A vehicle of that order is no longer on the shelf."))
    return Order(tuple(shelf[k] for k in keys), tuple(bool(m[2]) for m in found if m))


def standing(formation: Formation) -> Order:
    """Give the order in which a train stands."""
    places = list(formation.places.select_related("vehicle"))
    return Order(tuple(p.vehicle for p in places), tuple(p.turned for p in places))
