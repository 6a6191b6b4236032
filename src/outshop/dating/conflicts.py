"""Which evidence cannot all be right, and what the least is that must be set aside.

"Smallest" means with the fewest members; all sets of that size are given.
Windows are sets of years, so evidence agrees when some year lies in all of its windows.
A contradictory set is then a set cover: each year must be left out by at least one member.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import islice, product

import numpy as np
from numpy.typing import NDArray

from outshop.dating.covers import CoverSearch, SearchCutError, irreducible_cover

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
    proven : bool
        False when the search was cut before it could show that no smaller clash exists;
        ``clashes`` then holds one that cannot be reduced.
    """

    consistent: bool
    clashes: tuple[tuple[int, ...], ...] = ()
    set_aside: tuple[tuple[int, ...], ...] = ()
    minimal_set_aside: tuple[tuple[int, ...], ...] = ()
    complete: bool = True
    proven: bool = True


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
    clashes, complete, proven = _smallest_clashes(within, most)
    minimal = _minimal_set_aside(within)
    fewest = len(minimal[0])
    return Conflicts(
        consistent=False,
        clashes=tuple(sorted(clashes)),
        set_aside=tuple(s for s in minimal if len(s) == fewest)[:most],
        minimal_set_aside=minimal[:most],
        complete=complete,
        proven=proven,
    )


def _minimal_set_aside(within: NDArray[np.bool_]) -> tuple[tuple[int, ...], ...]:
    """Let each year blame the windows that leave it out; keep blames that hold no smaller one."""
    blames = {frozenset(np.flatnonzero(~column).tolist()) for column in within.T}
    return tuple(sorted((tuple(sorted(b)) for b in _smallest_blames(blames)), key=_by_size))


def _by_size(members: tuple[int, ...]) -> tuple[int, tuple[int, ...]]:
    return len(members), members


def _smallest_clashes(
    within: NDArray[np.bool_], most: int
) -> tuple[list[tuple[int, ...]], bool, bool]:
    """Give all set covers of the years with the fewest members; whether all, whether smallest.

    Evidence of equal windows is handled once and exchanged at the end; a year left out by all that
    leave out another is covered with it, so only years with a smallest blame are kept.
    """
    same: dict[bytes, list[int]] = defaultdict(list)
    for index, row in enumerate(within):
        same[np.packbits(row).tobytes()].append(index)
    groups = list(same.values())
    left_out = _needed_years(~within[[members[0] for members in groups]])
    search = CoverSearch(left_out)
    found: list[tuple[int, ...]] = []
    try:
        for size in range(1, len(groups) + 1):
            for cover in search.of_size(size):
                found += islice(product(*(groups[i] for i in cover)), most + 1 - len(found))
                if len(found) > most:
                    break
            if found:
                break
    except SearchCutError:
        proven = bool(found)  # one found in order of size is smallest
        found = found or [tuple(groups[i][0] for i in irreducible_cover(left_out))]
        return [tuple(sorted(members)) for members in found[:most]], False, proven
    return [tuple(sorted(members)) for members in found[:most]], len(found) <= most, True


def _needed_years(left_out: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Keep the columns that hold no other column, each once."""
    blames = {frozenset(np.flatnonzero(column).tolist()): i for i, column in enumerate(left_out.T)}
    return left_out[:, [blames[kept] for kept in _smallest_blames(blames)]]


def _smallest_blames(blames: Iterable[frozenset[int]]) -> list[frozenset[int]]:
    kept: list[frozenset[int]] = []
    for blame in sorted(blames, key=len):
        if not any(smaller <= blame for smaller in kept):
            kept.append(blame)
    return kept
