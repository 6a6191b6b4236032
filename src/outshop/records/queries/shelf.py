"""The shelf: search, filter, sort, fifty a page."""

from collections.abc import Mapping
from dataclasses import dataclass

from django.db.models import Count, F, QuerySet

from outshop.records.models import Piece
from outshop.records.models.piece import folded

PAGE_SIZE = 50
MOST_WORDS = 12  # of a search; the rest is left out

# name in the address -> columns, each sort ending in the key so that pages never overlap
SORTS: Mapping[str, tuple[str, ...]] = {
    "name": ("name", "pk"),
    "-name": ("-name", "-pk"),
    "newest": ("-created_at", "-pk"),
    "changed": ("-changed_at", "-pk"),
    "state": ("state", "name", "pk"),
    "scale": ("scale", "name", "pk"),
    "arrived": ("-arrived_on", "name", "pk"),
}


@dataclass(frozen=True, slots=True)
class ShelfPage:
    """One page of the shelf.

    Parameters
    ----------
    pieces : list of Piece
        With edition and cover at hand.
    count : int
        Pieces that were found, on all pages.
    page, pages : int
        This page and the last, from 1.
    states : dict
        How many of the found pieces are in each state, the filter by state left aside.
    """

    pieces: list[Piece]
    count: int
    page: int
    pages: int
    states: dict[str, int]

    @property
    def first(self) -> int:
        """Number of the first piece shown, from 1; 0 when there is none."""
        return (self.page - 1) * PAGE_SIZE + 1 if self.pieces else 0

    @property
    def last(self) -> int:
        """Number of the last piece shown."""
        return (self.page - 1) * PAGE_SIZE + len(self.pieces)


def shelf(
    *,
    search: str = "",
    state: str = "",
    kind: str = "",
    scale: str = "",
    sort: str = "name",
    page: int = 1,
) -> ShelfPage:
    """Find pieces; every word of ``search`` must be somewhere in a piece's texts.

    An unknown sort counts as by name, a page beyond the ends as the nearest.
    """
    found = _found(search, kind, scale)
    states = {
        row["state"]: row["number"]
        for row in found.order_by().values("state").annotate(number=Count("pk"))
    }
    count = states.get(state, 0) if state else sum(states.values())
    if state:
        found = found.filter(state=state)
    pages = max(-(-count // PAGE_SIZE), 1)
    page = min(max(page, 1), pages)
    order = [
        F(name[1:]).desc(nulls_last=True) if name == "-arrived_on" else name
        for name in SORTS.get(sort, SORTS["name"])
    ]
    shown = found.select_related("edition", "cover__media").order_by(*order)
    begin = (page - 1) * PAGE_SIZE
    return ShelfPage(list(shown[begin : begin + PAGE_SIZE]), count, page, pages, states)


def _found(search: str, kind: str, scale: str) -> QuerySet[Piece]:
    found = Piece.objects.all()
    for word in folded(search.replace("\x00", "")).split()[:MOST_WORDS]:
        found = found.filter(search_text__contains=word)
    if kind:
        found = found.filter(kind=kind)
    if scale:
        found = found.filter(scale=scale)
    return found
