"""Pieces, editions and prototypes: adding, changing, removing."""

from typing import Any

from outshop.records.models import Edition, LifeEvent, Piece, Prototype

from .saving import add, change, once, remove, use_case


@use_case
def add_piece(*, token: str = "", **fields: Any) -> Piece:
    """Put a new piece on the shelf; ``fields`` are the model's."""
    return once(token=token, model=Piece, make=lambda: add(Piece(**fields)))


@use_case
def change_piece(*, piece: Piece, version: int | None = None, **fields: Any) -> Piece:
    """Change a piece that is still at ``version``."""
    return change(piece, version=version, fields=fields)


@use_case
def remove_piece(*, piece: Piece) -> None:
    """Remove a piece and all that hangs on it; kept files stay until they are tidied away."""
    remove(piece)


@use_case
def add_edition(*, token: str = "", **fields: Any) -> Edition:
    """Note an edition of a maker."""
    return once(token=token, model=Edition, make=lambda: add(Edition(**fields)))


@use_case
def change_edition(*, edition: Edition, version: int | None = None, **fields: Any) -> Edition:
    """Change an edition; its pieces are found under the new words."""
    changed = change(edition, version=version, fields=fields)
    _refresh_search(changed)
    return changed


@use_case
def remove_edition(*, edition: Edition) -> None:
    """Remove an edition that no piece belongs to."""
    remove(edition)


@use_case
def add_prototype(*, token: str = "", **fields: Any) -> Prototype:
    """Note a full-size engine."""
    return once(token=token, model=Prototype, make=lambda: add(Prototype(**fields)))


@use_case
def change_prototype(
    *, prototype: Prototype, version: int | None = None, **fields: Any
) -> Prototype:
    """Change a prototype; its pieces are found under the new words."""
    changed = change(prototype, version=version, fields=fields)
    _refresh_search(changed)
    return changed


@use_case
def add_life_event(*, prototype: Prototype, token: str = "", **fields: Any) -> LifeEvent:
    """Note something that happened to a prototype."""
    event = LifeEvent(prototype=prototype, **fields)
    return once(token=token, model=LifeEvent, make=lambda: add(event))


@use_case
def remove_life_event(*, event: LifeEvent) -> None:
    """Remove an event from a prototype's life."""
    remove(event)


def _refresh_search(owner: Edition | Prototype) -> None:
    for piece in owner.pieces.select_related("edition", "prototype"):
        piece.save(update_fields=["search_text"])
