"""Which evidence cannot all be right, and what the least is that must be set aside.

"Smallest" means with the fewest members; all sets of that size are given.
Windows are sets of years, so evidence agrees when some year lies in all of its windows.
A contradictory set is then a set cover: each year must be left out by at least one member.
"""

from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice, product

import numpy as np
from numpy.typing import NDArray

MOST_SETS = 10_000  # sets listed at most, so that 10,000 clashing entries stay readable


@dataclass(frozen=True, slots=True)
class Conflicts:
    """What contradicts what.

    Parameters
    ----------
    consistent : bool
        Some year lies in every window.
    clashes : tuple of tuple of int
        All smallest contradictory sets, as indices, sorted.
    set_aside : tuple of tuple of int
        All smallest sets whose removal makes the rest agree, sorted.
    minimal_set_aside : tuple of tuple of int
        All sets to set aside of which no part would do, sorted by size.
    complete : bool
        False when more than ``MOST_SETS`` exist and the list was cut.
    """

    consistent: bool
    clashes: tuple[tuple[int, ...], ...] = ()
    set_aside: tuple[tuple[int, ...], ...] = ()
    minimal_set_aside: tuple[tuple[int, ...], ...] = ()
    complete: bool = True


def find_conflicts(within: NDArray[np.bool_], most: int = MOST_SETS) -> Conflicts:
    """Find all smallest contradictory sets and all smallest sets to set aside.

    Parameters
    ----------
    within : array of bool, shape (evidence, years)
        Which years lie in which window.
    most : int
        Sets of each kind to list at most.
    """
    if within.shape[0] == 0 or within.all(axis=0).any():
        return Conflicts(consistent=True)
    clashes = tuple(islice(_smallest_clashes(within), most + 1))
    minimal = _minimal_set_aside(within)
    fewest = len(minimal[0])
    return Conflicts(
        consistent=False,
        clashes=tuple(sorted(clashes[:most])),
        set_aside=tuple(s for s in minimal if len(s) == fewest)[:most],
        minimal_set_aside=minimal[:most],
        complete=len(clashes) <= most,
    )


def _minimal_set_aside(within: NDArray[np.bool_]) -> tuple[tuple[int, ...], ...]:
    """Let each year blame the windows that leave it out; keep blames that hold no smaller one."""
    blames = {frozenset(np.flatnonzero(~column).tolist()) for column in within.T}
    kept: list[frozenset[int]] = []
    for blame in sorted(blames, key=len):
        if not any(smaller <= blame for smaller in kept):
            kept.append(blame)
    return tuple(sorted((tuple(sorted(b)) for b in kept), key=lambda s: (len(s), s)))


def _smallest_clashes(within: NDArray[np.bool_]) -> Iterator[tuple[int, ...]]:
    """Give all set covers of the years with the fewest members.

    Evidence of equal windows is handled once and exchanged at the end.
    """
    same: dict[int, list[int]] = defaultdict(list)
    for index, row in enumerate(within):
        same[_as_bits(~row)].append(index)
    everything = (1 << within.shape[1]) - 1
    for size in range(1, len(same) + 1):
        covers = _covers(everything, list(same), size)
        found = False
        for cover in covers:
            found = True
            for members in product(*(same[bits] for bits in cover)):
                yield tuple(sorted(members))
        if found:
            return


def _covers(todo: int, left_out: Sequence[int], size: int) -> Iterator[tuple[int, ...]]:
    """Give all sets of exactly ``size`` members of ``left_out`` that cover ``todo``, each once.

    Branches on the year with the fewest members; a member passed over in an earlier branch is
    barred from the later ones, so no set comes twice.
    """
    if not todo:
        if size == 0:
            yield ()
        return
    if (
        size == 0
        or sum(sorted((b & todo).bit_count() for b in left_out)[-size:]) < todo.bit_count()
    ):
        return
    year = _rarest(todo, left_out)
    allowed = list(left_out)
    for bits in [b for b in left_out if b >> year & 1]:
        allowed.remove(bits)
        for rest in _covers(todo & ~bits, allowed, size - 1):
            yield (bits, *rest)


def _rarest(todo: int, left_out: Sequence[int]) -> int:
    """Find the bit of ``todo`` that the fewest members cover."""
    best, fewest, bits = 0, len(left_out) + 1, todo
    while bits:
        low = bits & -bits
        year = low.bit_length() - 1
        count = sum(b >> year & 1 for b in left_out)
        if count < fewest:
            best, fewest = year, count
        bits ^= low
    return best


def _as_bits(row: NDArray[np.bool_]) -> int:
    return int.from_bytes(np.packbits(row, bitorder="little").tobytes(), "little")
