"""What the solver knows so far: the best train, and how good any train could be at most."""

import time
from dataclasses import dataclass

import numpy as np

from outshop.formation import walk as walking
from outshop.formation.bound import PathBound
from outshop.formation.exact import Train, broken_heads, score_of, weight_met
from outshop.formation.recipes import Rule
from outshop.formation.search import Judge, Order, Value, as_train, better
from outshop.formation.task import Task, units

MOST_HARD = 200  # places of a walk looked at for demands of the bound
CLOSE = units(15.0) * 2  # heads nearer than this say the same


@dataclass(slots=True)
class State:
    """The best train of one question and its bounds.

    Parameters
    ----------
    score, vehicles, length : float, int, int
        No train has a better score; none of that score has more vehicles; none of both is
        longer (walk units, without the engine).
    possible : tuple of Rule
        The rules that the shelf alone does not make impossible.
    ways : tuple of tuple of Rule
        The sets of rules that a train of that score may keep: one of them, at least.
    met_at_most : int
        Weight of the rules that the best score meets.
    better_vehicles : int
        No train of that score has more vehicles, as long as none is known.
    heads : tuple of int
        Heads that the bound found to matter.
    share : float
        Of the time left, for one bound at most.
    proven : bool
        No train of the shelf is better than ``train``.
    """

    task: Task
    aim: str
    end: float
    judge: Judge
    bound: PathBound
    train: Train | None = None
    proven: bool = False
    score: float = 100.0
    vehicles: int = 0
    length: int = 0
    possible: tuple[Rule, ...] = ()
    ways: tuple[tuple[Rule, ...], ...] = ()
    met_at_most: int = 0
    better_vehicles: int = 0
    heads: tuple[int, ...] = ()
    first_after_s: float = 0.0
    share: float = 0.2

    @property
    def left(self) -> float:
        """Seconds left."""
        return max(0.0, self.end - time.monotonic())

    @property
    def value(self) -> Value:
        """Value of the best train."""
        if self.train is None:
            return (-1.0, 0, 0)
        return value_of(self.task, self.train)

    @property
    def number(self) -> int:
        """Vehicles of the best train."""
        return len(self.train or ())

    @property
    def order(self) -> Order:
        """The best train as numbers of the task's vehicles."""
        return order_of(self.task, self.train or ())

    @property
    def met(self) -> int:
        """Weight of the rules that a better train must meet as well."""
        if self.aim == "longest" or self.train is None:
            return 0
        return weight_met(self.task, self.train)

    def score_open(self) -> bool:
        """Tell whether a better score is not excluded yet."""
        return self.aim == "believable" and self.value[0] < self.score - 1e-9

    def meets_bounds(self) -> bool:
        """Tell whether the train is as good as any can be."""
        _, vehicles, length = self.value
        return not self.score_open() and vehicles >= self.vehicles and length >= self.length

    def take(self, order: Order | None) -> bool:
        """Keep a train if it is better; tell whether it is."""
        if order is None:
            return False
        return self.take_train(as_train(self.task, order))

    def take_train(self, train: Train | None) -> bool:
        """Do the same with the vehicles themselves."""
        if train is None or broken_heads(self.task, train):
            return False
        if better(value_of(self.task, train), self.value, self.aim):
            self.train = train
            return True
        return False


def order_of(task: Task, train: Train) -> Order:
    """Give a train as numbers of the task's vehicles."""
    number = {v.name: i for i, v in enumerate(task.vehicles)}
    return tuple(number[v.name] for v in train if v.name in number)


def value_of(task: Task, train: Train) -> Value:
    """Give score, number and length (walk units) of a train."""
    return (score_of(task, train), len(train), sum(units(v.length_mm) for v in train))


def hard_heads(task: Task, train: Train | None) -> list[int]:
    """Give the heads that matter: the places hardest for a train."""
    heads: list[int] = []
    if train:
        places = walking.walk(task.profile, task.locomotive, train)
        hard = np.argsort(-places.needed_g)
        for k in hard[:: max(1, len(hard) // MOST_HARD)]:
            head = (int(places.start[k]) + int(places.end[k])) // 2
            if all(abs(head - other) > CLOSE for other in heads):
                heads.append(head)
    return heads
