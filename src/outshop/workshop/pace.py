"""Own pace: how long tasks really take, from finished cards, for better estimates."""

import math
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from outshop.errors import InputError

PRIOR_WEIGHT = 2.0  # the table's minutes count as much as two own cards; our choice
WIDEST_FACTOR = 10.0  # a clock left running overnight must not rule the estimate; our choice


@dataclass(frozen=True, slots=True)
class Took:
    """A task on a finished card: its id, minutes estimated and minutes really taken."""

    task: str
    estimated_min: float
    taken_min: float

    def __post_init__(self) -> None:
        """Check once, at the door."""
        for minutes in (self.estimated_min, self.taken_min):
            if not (math.isfinite(minutes) and minutes > 0):
                message = f"{self.task}: minutes must be above 0; got {minutes:g}"
                raise InputError(message)


def own_pace(history: Iterable[Took]) -> dict[str, float]:
    """Give the factor by task: taken over estimated, drawn towards 1 while cards are few.

    Notes
    -----
    The mean of log(taken/estimated) with a prior of weight 2 at 0: times spread by factors,
    not by minutes.
    """
    logs: dict[str, list[float]] = defaultdict(list)
    for took in history:
        ratio = took.taken_min / took.estimated_min
        logs[took.task].append(math.log(min(max(ratio, 1 / WIDEST_FACTOR), WIDEST_FACTOR)))
    return {
        task: math.exp(math.fsum(values) / (len(values) + PRIOR_WEIGHT))
        for task, values in logs.items()
    }
