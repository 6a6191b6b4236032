"""Insurance schedule and summary for heirs: totals by place, and changes since the last."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class Item:
    """One piece on a schedule; values of different kinds are never mixed.

    Parameters
    ----------
    key : str
        Stable name of the piece.
    name, place : str
    market, replacement, agreed : Decimal or None
        In the schedule's currency.
    """

    key: str
    name: str
    place: str
    market: Decimal | None = None
    replacement: Decimal | None = None
    agreed: Decimal | None = None

    def value(self, basis: str) -> Decimal | None:
        """Give the value on one basis: ``market``, ``replacement`` or ``agreed``."""
        values = {"market": self.market, "replacement": self.replacement, "agreed": self.agreed}
        return values[basis]


@dataclass(frozen=True, slots=True)
class Schedule:
    """Items by place with totals on one basis.

    Parameters
    ----------
    basis : str
    places : tuple of (place, items, total)
    total : Decimal
    unvalued : tuple of str
        Names without a value on this basis: they are in no total.
    """

    basis: str
    places: tuple[tuple[str, tuple[Item, ...], Decimal], ...]
    total: Decimal
    unvalued: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Change:
    """What a schedule holds that the last one did not, or holds at another value."""

    name: str
    before: Decimal | None
    after: Decimal | None


def make_schedule(items: Iterable[Item], basis: str) -> Schedule:
    """Sort items by place and value and add them up."""
    by_place: dict[str, list[Item]] = {}
    for item in items:
        by_place.setdefault(item.place or "place not told", []).append(item)
    places = []
    unvalued = []
    for place, members in sorted(by_place.items()):
        members.sort(key=lambda i: (-(i.value(basis) or ZERO), i.name))
        unvalued += [i.name for i in members if i.value(basis) is None]
        places.append((place, tuple(members), sum((i.value(basis) or ZERO for i in members), ZERO)))
    return Schedule(basis, tuple(places), sum((p[2] for p in places), ZERO), tuple(unvalued))


def changes_since(
    before: Mapping[str, Item], after: Mapping[str, Item], basis: str
) -> list[Change]:
    """List what came, went, or changed its value, by name."""
    changes = []
    for key in before.keys() | after.keys():
        old, new = before.get(key), after.get(key)
        old_value = old.value(basis) if old else None
        new_value = new.value(basis) if new else None
        named = new or old
        if named and (old is None or new is None or old_value != new_value):
            changes.append(Change(named.name, old_value, new_value))
    return sorted(changes, key=lambda c: c.name)
