"""Parts and consumables: what lies in the drawer and what the open jobs still need."""

import math
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from outshop.errors import InputError


@dataclass(frozen=True, slots=True)
class StockItem:
    """One kind of part or consumable.

    Parameters
    ----------
    name, size : str
        What it is, and which size (``tyres``, ``14 × 1.5 mm``).
    in_stock : float
        How many, or how much, lies in the drawer.
    keep_at_least : float
        Below this it goes on the shopping list even without a job.
    unit : str
        ``pieces``, ``ml`` or words.

    Raises
    ------
    InputError
        The stock or the least stock is negative or no number.
    """

    name: str
    size: str = ""
    in_stock: float = 0.0
    keep_at_least: float = 0.0
    unit: str = "pieces"

    def __post_init__(self) -> None:
        """Check once, at the door."""
        if not self.name.strip():
            message = "a part needs a name"
            raise InputError(message)
        for what, number in (("stock", self.in_stock), ("least stock", self.keep_at_least)):
            if not (math.isfinite(number) and number >= 0):
                message = f"the {what} of {self.name} cannot be {number:g}; count again"
                raise InputError(message)

    @property
    def key(self) -> tuple[str, str]:
        """What makes two lines the same thing."""
        return _key(self.name, self.size)


@dataclass(frozen=True, slots=True)
class Need:
    """So much of something is wanted for one job."""

    name: str
    amount: float = 1.0
    size: str = ""
    job: str = ""

    def __post_init__(self) -> None:
        """Check once, at the door."""
        if not (math.isfinite(self.amount) and self.amount > 0):
            message = f"a job needs more than nothing of {self.name}; got {self.amount:g}"
            raise InputError(message)


@dataclass(frozen=True, slots=True)
class ToBuy:
    """One line of the shopping list."""

    name: str
    size: str
    amount: float
    unit: str
    jobs: tuple[str, ...]


def take(item: StockItem, amount: float) -> StockItem:
    """Take from the drawer.

    Raises
    ------
    InputError
        More is taken than is there, or a negative amount.
    """
    if not (math.isfinite(amount) and amount > 0):
        message = f"take more than nothing; got {amount:g}"
        raise InputError(message)
    if amount > item.in_stock:
        message = (
            f"only {item.in_stock:g} {item.unit} of {item.name} are in stock; "
            f"{amount:g} cannot be taken. Correct the stock first if more are there."
        )
        raise InputError(message)
    left = item.in_stock - amount
    return StockItem(item.name, item.size, left, item.keep_at_least, item.unit)


def shopping_list(needs: Iterable[Need], stock: Iterable[StockItem]) -> tuple[ToBuy, ...]:
    """Give what must be bought for the open jobs and to keep the least stock.

    Notes
    -----
    A need without a size takes any size of that name; a need with a size takes only that.
    """
    items = list(stock)
    asked: dict[tuple[str, str], list[Need]] = defaultdict(list)
    for need in needs:
        asked[_key(need.name, need.size)].append(need)
    left = {item.key: item.in_stock for item in items}
    lines = []
    # Needs of a given size first: they cannot take anything else.
    for key in sorted(asked, key=lambda k: (k[1] == "", k)):
        wanted = sum(need.amount for need in asked[key])
        for item in items:
            if item.key == key or (not key[1] and item.key[0] == key[0]):
                taken = min(wanted, left[item.key])
                left[item.key] -= taken
                wanted -= taken
        if wanted > 0:
            first = asked[key][0]
            jobs = tuple(dict.fromkeys(need.job for need in asked[key] if need.job))
            unit = next((i.unit for i in items if i.key[0] == key[0]), "pieces")
            lines.append(ToBuy(first.name, first.size, wanted, unit, jobs))
    for item in items:
        short = item.keep_at_least - left[item.key]
        if short > 0:
            lines.append(ToBuy(item.name, item.size, short, item.unit, ()))
    return _merged(lines)


def _merged(lines: Iterable[ToBuy]) -> tuple[ToBuy, ...]:
    """Add up lines of the same thing."""
    merged: dict[tuple[str, str], ToBuy] = {}
    for line in lines:
        key = _key(line.name, line.size)
        before = merged.get(key)
        amount = line.amount + (before.amount if before else 0)
        jobs = tuple(dict.fromkeys((*(before.jobs if before else ()), *line.jobs)))
        merged[key] = ToBuy(line.name, line.size, amount, line.unit, jobs)
    return tuple(merged[key] for key in sorted(merged))


def _key(name: str, size: str) -> tuple[str, str]:
    return " ".join(name.casefold().split()), " ".join(size.casefold().split())
