"""Lots, sales and values."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any, BinaryIO

from django.utils import timezone

from outshop.errors import ConflictError
from outshop.market.comparables import Comparable
from outshop.records.models import Edition, Lot, LotFile, MediaFile, Piece, Sale, Valuation

from .media import keep_and
from .pieces import add_piece
from .saving import add, change, once, remove, use_case


@use_case
def add_lot(*, token: str = "", **fields: Any) -> Lot:
    """Keep a lot."""
    return once(token=token, model=Lot, make=lambda: add(Lot(**fields)))


@use_case
def change_lot(*, lot: Lot, version: int | None = None, **fields: Any) -> Lot:
    """Change a lot."""
    return change(lot, version=version, fields=fields)


@use_case
def remove_lot(*, lot: Lot) -> None:
    """Take a lot back."""
    remove(lot)


def add_lot_file(
    *, lot: Lot, source: BinaryIO, name: str, caption: str = "", token: str = ""
) -> LotFile:
    """Keep a picture of a lot, or a saved copy of its listing.

    Raises
    ------
    MediaError
        It is neither a picture nor a document.
    """

    def new(media: MediaFile) -> LotFile:
        file = LotFile(lot=lot, media=media, caption=caption)
        return once(token=token, model=LotFile, make=lambda: add(file))

    return keep_and(
        source=source, name=name, kinds=(MediaFile.Kind.PICTURE, MediaFile.Kind.DOCUMENT), make=new
    )


@use_case
def buy_lot(*, lot: Lot, hammer: Decimal, full_price: Decimal, token: str = "") -> Piece:
    """Make a piece of a lot that was won, with what was paid for it.

    Raises
    ------
    ConflictError
        The lot was bought before.
    """
    lot.refresh_from_db()
    if lot.piece is not None:
        message = f"{lot} was bought already and is {lot.piece}: a lot is bought once"
        raise ConflictError(message)
    piece = add_piece(
        token=token,
        name=lot.title,
        edition=lot.edition,
        state=Piece.State.ARRIVED,
        arrived_on=timezone.localdate(),
    )
    add(
        Valuation(
            piece=piece,
            basis=Valuation.Basis.PAID,
            amount=full_price,
            currency=lot.currency,
            source=f"{lot.seller} {lot.number}".strip(),
        )
    )
    change(
        lot,
        version=None,
        fields={"piece": piece, "state": Lot.State.BOUGHT, "hammer": hammer},
    )
    return piece


@use_case
def add_sales(*, sales: Sequence[Comparable], edition: Edition | None = None) -> int:
    """Keep sales; those already on record are left as they are. Give how many were new."""
    new = 0
    for sale in sales:
        known = Sale.objects.filter(
            what=sale.edition, sold_on=sale.sold, price=sale.price, currency=sale.code
        )
        if known.exists():
            continue
        add(
            Sale(
                edition=edition,
                what=sale.edition,
                sold_on=sale.sold,
                price=sale.price,
                currency=sale.code,
                condition=sale.condition,
                parts=[list(pair) for pair in sale.parts],
                box=sale.box,
                papers=sale.papers,
                working=sale.working,
                source=sale.source,
            )
        )
        new += 1
    return new


@use_case
def remove_sale(*, sale: Sale) -> None:
    """Take a sale back."""
    remove(sale)


@use_case
def add_valuation(
    *,
    piece: Piece,
    basis: str,
    amount: Decimal,
    currency: str,
    valued_on: date | None = None,
    source: str = "",
    token: str = "",
) -> Valuation:
    """Keep what a piece is worth on one basis."""
    value = Valuation(
        piece=piece,
        basis=basis,
        amount=amount,
        currency=currency,
        valued_on=valued_on or timezone.localdate(),
        source=source,
    )
    return once(token=token, model=Valuation, make=lambda: add(value))


@use_case
def remove_valuation(*, valuation: Valuation) -> None:
    """Take a value back."""
    remove(valuation)
