"""The shopping list, parts of a piece, and how long kinds of parts last."""

from dataclasses import dataclass
from datetime import date

from django.utils import timezone

from outshop.estimate import NotMeasurable
from outshop.records.models import FittedPart, JobCard, JobNeed, StockItem
from outshop.workshop.parts import part_list
from outshop.workshop.stock import Need, ToBuy, shopping_list
from outshop.workshop.stock import StockItem as DrawerItem
from outshop.workshop.survival import Life, Survival, survival

DAYS_A_YEAR = 365.25
LATEST_NEEDS = 1000  # of job cards, to say where a part is used


@dataclass(frozen=True, slots=True)
class PartLife:
    """A kind of part and how long it lasts in this collection."""

    part: str
    name: str
    curve: Survival


def open_needs() -> list[JobNeed]:
    """Give what open cards need and have not taken yet."""
    needs = JobNeed.objects.filter(card__state=JobCard.State.OPEN, taken_at=None)
    return list(needs.select_related("card__piece"))


def to_buy() -> tuple[ToBuy, ...]:
    """Give the shopping list for open jobs and the least stock."""
    needs = [Need(n.name, n.amount, n.size, f"{n.card.piece}") for n in open_needs()]
    items = [
        DrawerItem(i.name, i.size, i.in_stock, i.keep_at_least, i.unit)
        for i in StockItem.objects.all()
    ]
    return shopping_list(needs, items)


def where_used() -> dict[tuple[str, str], list[str]]:
    """Give the pieces whose jobs took a part or need it, by its name and size.

    A need without a size stands under every size of that name.
    """
    rows = JobNeed.objects.select_related("card__piece").order_by("-pk")[:LATEST_NEEDS]
    sizes: dict[str, set[tuple[str, str]]] = {}
    for item in StockItem.objects.all():
        key = DrawerItem(item.name, item.size).key
        sizes.setdefault(key[0], set()).add(key)
    used: dict[tuple[str, str], list[str]] = {}
    for need in rows:
        key = DrawerItem(need.name, need.size).key
        for fitting in sizes.get(key[0], set()) if not key[1] else {key}:
            pieces = used.setdefault(fitting, [])
            if str(need.card.piece) not in pieces:
                pieces.append(str(need.card.piece))
    return used


def part_lives(today: date | None = None) -> list[PartLife]:
    """Give the survival of each kind of part in years; kinds with few failures are silent."""
    present = today or timezone.localdate()
    lives: dict[str, list[Life]] = {}
    rows = FittedPart.objects.filter(fitted_on__isnull=False).order_by("part")
    for part, fitted, removed, failed in rows.values_list(
        "part", "fitted_on", "removed_on", "failed"
    ):
        days = ((removed or present) - fitted).days if fitted else -1
        if days >= 0:
            lives.setdefault(part, []).append(Life(days / DAYS_A_YEAR, bool(removed) and failed))
    names = {known.id: known.name for known in part_list()}
    found = []
    for part, known in lives.items():
        curve = survival(known, "years")
        if not isinstance(curve, NotMeasurable):
            found.append(PartLife(part, names.get(part, part), curve))
    return found
