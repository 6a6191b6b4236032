"""The drawer, what jobs need from it, and what is fitted to a piece."""

from datetime import date
from typing import Any

from django.utils import timezone

from outshop.errors import ConflictError, InputError
from outshop.records.models import FittedPart, JobCard, JobNeed, Piece, StockItem
from outshop.workshop import stock
from outshop.workshop.parts import part as known_part

from .saving import add, change, once, remove, use_case


@use_case
def add_stock_item(*, token: str = "", **fields: Any) -> StockItem:
    """Put a kind of part or consumable into the drawer.

    Raises
    ------
    InputError
        It has no name, a number is negative, or it lies there already.
    """
    item = StockItem(**fields)

    def new() -> StockItem:
        wanted = as_workshop_item(item)
        for other in StockItem.objects.filter(name__iexact=item.name.strip()):
            if as_workshop_item(other).key == wanted.key:
                message = f"{other} is in the list already; change its number there"
                raise InputError(message)
        return add(item)

    return once(token=token, model=StockItem, make=new)


@use_case
def change_stock_item(*, item: StockItem, version: int | None = None, **fields: Any) -> StockItem:
    """Count again, or change what is said of it."""
    return change(item, version=version, fields=fields)


@use_case
def remove_stock_item(*, item: StockItem) -> None:
    """Take a line off the list."""
    remove(item)


@use_case
def take_from_stock(*, item: StockItem, amount: float = 1.0) -> StockItem:
    """Take from the drawer.

    Raises
    ------
    InputError
        More is taken than is there.
    """
    fresh = StockItem.objects.select_for_update().get(pk=item.pk)
    left = stock.take(as_workshop_item(fresh), amount)
    return change(fresh, version=None, fields={"in_stock": left.in_stock})


@use_case
def add_need(
    *, card: JobCard, name: str, amount: float = 1.0, size: str = "", token: str = ""
) -> JobNeed:
    """Note that a job needs something.

    Raises
    ------
    InputError
        The amount is not above 0.
    """
    stock.Need(name, amount, size)
    need = JobNeed(card=card, name=name, amount=amount, size=size)
    return once(token=token, model=JobNeed, make=lambda: add(need))


@use_case
def take_need(*, need: JobNeed) -> JobNeed:
    """Take what a job needs out of the drawer; a second tap takes nothing more.

    Raises
    ------
    InputError
        The drawer does not hold enough.
    """
    need.refresh_from_db()
    if need.taken_at:
        return need
    wanted = stock.Need(need.name, need.amount, need.size)
    fitting = [
        item
        for item in StockItem.objects.select_for_update().filter(name__iexact=need.name.strip())
        if not wanted.size
        or as_workshop_item(item).key == stock.StockItem(need.name, need.size).key
    ]
    if not fitting:
        message = f"{need.name} is not in the drawer; enter it there first"
        raise InputError(message)
    fullest = max(fitting, key=lambda item: item.in_stock)
    take_from_stock(item=fullest, amount=need.amount)
    return change(need, version=None, fields={"taken_at": timezone.now()})


@use_case
def remove_need(*, need: JobNeed) -> None:
    """Take a need off a card."""
    remove(need)


@use_case
def fit_part(*, piece: Piece, part: str, token: str = "", **fields: Any) -> FittedPart:
    """Note a part of a piece: original, or fitted on a day.

    Raises
    ------
    MissingError
        The part is not in the part list.
    """
    known_part(part)
    fitted = FittedPart(piece=piece, part=part, **fields)
    return once(token=token, model=FittedPart, make=lambda: add(fitted))


@use_case
def take_part_out(
    *, fitted: FittedPart, removed_on: date | None = None, failed: bool = False, kept_in: str = ""
) -> FittedPart:
    """Note that a part came out, why, and where it is kept.

    Raises
    ------
    ConflictError
        It is out already.
    """
    fitted.refresh_from_db()
    if fitted.removed_on:
        message = f"{fitted} came out on {fitted.removed_on}; it cannot come out again"
        raise ConflictError(message)
    fields = {
        "removed_on": removed_on or timezone.localdate(),
        "failed": failed,
        "kept_in": kept_in,
    }
    return change(fitted, version=None, fields=fields)


@use_case
def remove_fitted(*, fitted: FittedPart) -> None:
    """Take a line off the list of parts."""
    remove(fitted)


def as_workshop_item(item: StockItem) -> stock.StockItem:
    """Give a line of the drawer as the workshop takes it."""
    return stock.StockItem(item.name, item.size, item.in_stock, item.keep_at_least, item.unit)
