"""The whole knowledge as one checked object, with its tables of numbers."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from outshop.diagnosis.consistency import check_consistency
from outshop.diagnosis.model import (
    Cause,
    Check,
    Group,
    Pattern,
    Quantity,
    Sign,
    Stop,
)

MOST = 0.95  # the factor on what owners tell never lifts a strength beyond this


@dataclass(frozen=True)
class Knowledge:
    """Groups, causes, signs, patterns, checks, quantities and stop-signs.

    Causes are kept in the order of their groups. Strengths live in :attr:`strengths`,
    an array [shape=(causes, signs)] of P(sign there | this cause alone), before context.

    Raises
    ------
    KnowledgeError
        Something refers to what is not there, twice to the same, or in a circle.
    """

    groups: tuple[Group, ...]
    causes: tuple[Cause, ...]
    signs: tuple[Sign, ...]
    patterns: tuple[Pattern, ...]
    checks: tuple[Check, ...]
    quantities: tuple[Quantity, ...]
    stops: tuple[Stop, ...]

    def __post_init__(self) -> None:
        """Sort what outcomes show, check everything, order the causes by group."""
        groups = {g.id for g in self.groups}
        signs = tuple(_outcome_by_group(s, groups) for s in self.signs)
        object.__setattr__(self, "signs", signs)
        check_consistency(self)
        place = {g.id: i for i, g in enumerate(self.groups)}
        ordered = tuple(sorted(self.causes, key=lambda c: place[c.group]))
        object.__setattr__(self, "causes", ordered)

    @cached_property
    def group_by_id(self) -> dict[str, Group]:
        """Groups by id."""
        return {g.id: g for g in self.groups}

    @cached_property
    def cause_by_id(self) -> dict[str, Cause]:
        """Causes by id."""
        return {c.id: c for c in self.causes}

    @cached_property
    def sign_by_id(self) -> dict[str, Sign]:
        """Signs by id, outcomes of checks among them."""
        return {s.id: s for s in self.signs}

    @cached_property
    def sign_column(self) -> dict[str, int]:
        """Column of each sign in :attr:`strengths`."""
        return {s.id: i for i, s in enumerate(self.signs)}

    @cached_property
    def check_by_id(self) -> dict[str, Check]:
        """Checks by id."""
        return {c.id: c for c in self.checks}

    @cached_property
    def quantity_by_key(self) -> dict[str, Quantity]:
        """Quantities by key."""
        return {q.key: q for q in self.quantities}

    @cached_property
    def quantity_by_name(self) -> dict[str, Quantity]:
        """Quantities by key and by every other name."""
        return {name: q for q in self.quantities for name in (q.key, *q.also)}

    @cached_property
    def group_of_cause(self) -> NDArray[np.intp]:
        """Index of each cause's group [shape=(causes,)], ascending."""
        place = {g.id: i for i, g in enumerate(self.groups)}
        return np.array([place[c.group] for c in self.causes], dtype=np.intp)

    @cached_property
    def strengths(self) -> NDArray[np.float64]:
        """P(sign told | cause alone), without context [shape=(causes, signs)]."""
        told = np.where(self._told_by_owners, self.telling[:, None], 1.0)
        table = np.minimum(self._written * told, np.maximum(self._written, MOST))
        table.setflags(write=False)
        return table

    @cached_property
    def telling(self) -> NDArray[np.float64]:
        """Factor on what owners tell of each cause [shape=(causes,)].

        An account names a few signs whatever the trouble, so a cause of many signs is told by
        a smaller part of them. The factor gives every cause the same expected number.
        """
        number = self._written[:, self._told_by_owners].sum(axis=1)
        return np.asarray(np.median(number) / number)

    @cached_property
    def _told_by_owners(self) -> NDArray[np.bool_]:
        silent = ("history", "measured", "check")
        return np.array([s.kind not in silent and not s.healthy for s in self.signs])

    @cached_property
    def _written(self) -> NDArray[np.float64]:
        """Strengths as they stand in the tables [shape=(causes, signs)]."""
        families = [self.group_by_id[c.group].family for c in self.causes]
        table = np.empty((len(self.causes), len(self.signs)))
        for j, sign in enumerate(self.signs):
            default = sign.usual if sign.healthy else sign.otherwise
            for i, cause in enumerate(self.causes):
                value = sign.cause.get(cause.id)
                if value is None:
                    value = cause.signs.get(sign.id)
                if value is None:
                    value = sign.group.get(cause.group)
                if value is None:
                    value = sign.family.get(families[i], default)
                table[i, j] = value
        return table


def _outcome_by_group(sign: Sign, groups: set[str]) -> Sign:
    if sign.kind != "check":
        return sign
    by_group = {k: v for k, v in sign.cause.items() if k in groups}
    by_cause = {k: v for k, v in sign.cause.items() if k not in groups}
    return replace(sign, group={**sign.group, **by_group}, cause=by_cause)
