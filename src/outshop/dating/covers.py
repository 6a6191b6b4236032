"""All smallest set covers, exactly: few members out of up to thousands, many elements.

Branches on the element that the fewest members cover; a member passed over in an earlier branch is
barred from the later ones, so no cover comes twice. The last two levels are one matrix product.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Flags = NDArray[np.bool_]
MOST_STEPS = 4_000  # nodes searched; about a second with 200 members and 100 elements


class SearchCutError(Exception):
    """The search took more steps than it may; caught within this room."""


@dataclass(slots=True)
class CoverSearch:
    """Search for covers of all elements.

    Parameters
    ----------
    covers : array of bool, shape (members, elements)
        Which member covers which element; each element is covered by some member.
    steps_left : int
        Nodes that may still be searched.
    """

    covers: Flags
    steps_left: int = MOST_STEPS
    _misses: NDArray[np.float32] = field(init=False)

    def __post_init__(self) -> None:
        """Keep the complement at hand for the products."""
        self._misses = (~self.covers).T.astype(np.float32)

    def of_size(self, size: int) -> Iterator[tuple[int, ...]]:
        """Give all covers of exactly ``size`` members, none of which may be spared.

        Raises
        ------
        SearchCutError
            The steps are used up.
        """
        members, elements = self.covers.shape
        yield from self._search(np.ones(elements, bool), np.ones(members, bool), size)

    def _search(self, todo: Flags, allowed: Flags, size: int) -> Iterator[tuple[int, ...]]:
        self.steps_left -= 1
        if self.steps_left < 0:
            raise SearchCutError
        useful = self.covers[:, todo] & allowed[:, None]
        if size == 1:
            yield from ((int(i),) for i in np.flatnonzero(useful.all(axis=1)))
            return
        reach = useful.sum(axis=1)
        if np.sort(reach)[-size:].sum() < todo.sum():
            return
        branch = np.flatnonzero(useful[:, useful.sum(axis=0).argmin()])
        if size == 2:
            yield from self._pairs(todo, allowed, branch)
            return
        allowed = allowed.copy()
        for member in branch:
            allowed[member] = False
            for rest in self._search(todo & ~self.covers[member], allowed, size - 1):
                yield (int(member), *rest)

    def _pairs(
        self, todo: Flags, allowed: Flags, branch: NDArray[np.intp]
    ) -> Iterator[tuple[int, ...]]:
        left = (todo & ~self.covers[branch]).astype(np.float32)
        done = (left @ self._misses == 0) & allowed
        for row, member in enumerate(branch):
            done[row, branch[: row + 1]] = False  # these pairs came in an earlier branch
            yield from ((int(member), int(other)) for other in np.flatnonzero(done[row]))


def irreducible_cover(covers: Flags) -> tuple[int, ...]:
    """Give one cover of which no member can be spared: greedily found, then thinned."""
    todo = np.ones(covers.shape[1], bool)
    chosen: list[int] = []
    while todo.any():
        chosen.append(int((covers & todo).sum(axis=1).argmax()))
        todo &= ~covers[chosen[-1]]
    for member in list(chosen):
        rest = [m for m in chosen if m != member]
        if rest and covers[rest].any(axis=0).all():
            chosen = rest
    return tuple(sorted(chosen))
