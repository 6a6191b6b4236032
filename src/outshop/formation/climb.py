"""Reach for what the bounds leave open: a better score, one vehicle more, a longer train."""

from collections.abc import Callable
from dataclasses import dataclass, field
from itertools import cycle

from outshop.formation.reach import STEPS, Goal, reach
from outshop.formation.search import Order
from outshop.formation.state import State

SLOWER = 1.4  # each descent that missed is followed by one of so many times the steps
MOST_STEPS = 200_000.0
SCORE_SHARE, NUMBER_SHARE = 0.5, 0.7  # of the time left, where that aim is open
FINEST_LENGTH = 0.0004  # of the room: a gain not worth reaching for


@dataclass(slots=True)
class Climber:
    """Betters a state's train in place.

    Parameters
    ----------
    state : State
        With its bounds.
    allowed : callable, optional
        Tells whether a train may be kept.
    seed : int
        Same seed, same path (as far as the time goes).
    """

    state: State
    allowed: Callable[[Order], bool] | None = None
    seed: int = 1
    near: dict[Goal, Order] = field(default_factory=dict)

    def climb(self, seconds: float) -> None:
        """Reach for score, number and length, one after the other."""
        state = self.state
        end = max(state.left - seconds, 0.0)  # what must be left of the state's own time
        self._score(end + (1 - SCORE_SHARE) * (state.left - end))
        self._number(end + (1 - NUMBER_SHARE) * (state.left - end))
        self._length(end)

    def climb_score(self, seconds: float) -> None:
        """Reach for the score only: at first, all rules the shelf can keep."""
        if self.state.train is not None:
            self._score(max(self.state.left - seconds, 0.0))

    def _try(self, goal: Goal, start: Order, steps: int, end: float) -> bool:
        state = self.state
        self.seed += 1
        found = reach(
            state.judge,
            goal,
            state.left - end,
            start=start,
            steps=steps,
            seed=self.seed,
            allowed=self.allowed,
        )
        if found is None:
            return False
        self.near[goal] = found.order
        return found.missed <= 0 and state.take(found.order)

    def _score(self, end: float) -> None:
        """Reach for the best score, else for a little more, at several numbers of vehicles."""
        state, steps = self.state, float(STEPS)
        while state.score_open() and state.left > end:
            top, now, size = state.met_at_most, state.met, state.number
            sizes = dict.fromkeys((size, max(1, 3 * size // 4), min(size + 1, state.vehicles)))
            goals = [Goal(n, met=met) for met in dict.fromkeys((top, now + 1)) for n in sizes]
            if not any(self._try(g, state.order, int(steps), end) for g in goals):
                steps = min(steps * SLOWER, MOST_STEPS)

    def _number(self, end: float) -> None:
        """Reach for more vehicles: half of what the bound leaves, then less, down to one more."""
        state, steps = self.state, float(STEPS)
        starts = cycle(("train", "light", "near", "near"))
        leap = max(1, (state.vehicles - state.number) // 2)
        while state.number < state.vehicles and state.left > end:
            leap = min(leap, state.vehicles - state.number)
            goal = Goal(state.number + leap, met=state.met)
            start = {"train": state.order, "light": (), "near": self.near.get(goal, ())}
            if self._try(goal, start[next(starts)], int(steps), end):
                steps = float(STEPS)
            elif leap > 1:
                leap //= 2
            else:
                steps = min(steps * SLOWER, MOST_STEPS)

    def _length(self, end: float) -> None:
        """Reach for the greatest length that is left, else for half of what lacks, and so on."""
        state, share, steps = self.state, 1.0, float(STEPS)
        least = max(state.task.step, int(FINEST_LENGTH * state.task.room_units))
        while state.train and state.value[2] < state.length and state.left > end:
            now = state.value[2]
            goal = min(state.length, now + max(least, int(share * (state.length - now))))
            finest = goal - now <= least
            reached = self._try(
                Goal(state.number, length=goal, met=state.met), state.order, int(steps), end
            )
            if not reached:
                share = 1.0 if finest else share / 2
                steps = min(steps * SLOWER, MOST_STEPS) if finest else steps
