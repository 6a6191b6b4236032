"""What each aim asks for, level by level, and which levels are proven.

``longest`` asks for most vehicles, then for the longest train. ``believable`` asks for the best
score; among trains of the same score the one with more vehicles, then the longer one, is given,
but these only decide between equals and are told apart from the aim.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

AIMED: dict[str, tuple[str, ...]] = {"longest": ("vehicles", "length_mm"), "believable": ("score",)}
TIES: dict[str, tuple[str, ...]] = {"longest": (), "believable": ("vehicles", "length_mm")}


@dataclass(frozen=True, slots=True)
class Proof:
    """How good the best train is, and how good any could be.

    Parameters
    ----------
    aim : str
        ``longest`` or ``believable``.
    here, most : dict
        ``score`` (0 to 100), ``vehicles``, ``length_mm`` (engine included) of the best train, and
        their upper bounds: no train has a better score, none of the best score more vehicles, none
        of both is longer.
    """

    aim: str
    here: Mapping[str, float]
    most: Mapping[str, float]

    @property
    def gap(self) -> dict[str, float]:
        """What each level leaves open; a level below one that is open tells nothing yet."""
        levels = (*AIMED[self.aim], *TIES[self.aim])
        return {k: max(0.0, round(self.most[k] - self.here[k], 6)) for k in levels}

    @property
    def best(self) -> bool:
        """Tell whether the aim is proven: no train of the shelf reaches more of it."""
        return self._closed(AIMED[self.aim])

    @property
    def best_of_equals(self) -> bool:
        """Tell whether no train as good by the aim has more vehicles or is longer either."""
        return self.best and self._closed(TIES[self.aim])

    def _closed(self, levels: tuple[str, ...]) -> bool:
        gap = self.gap
        return all(gap[k] <= 0 for k in levels)

    def as_json(self) -> dict[str, Any]:
        """Give bounds and gaps, those of the ties apart."""
        gap = self.gap
        return {
            "at_most": {k: self.most[k] for k in AIMED[self.aim]},
            "gap": {k: gap[k] for k in AIMED[self.aim]},
            "of_equals": {
                "proven_best": self.best_of_equals,
                "at_most": {k: self.most[k] for k in TIES[self.aim]},
                "gap": {k: gap[k] for k in TIES[self.aim]},
            },
        }
