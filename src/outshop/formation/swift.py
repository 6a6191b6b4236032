"""The force at the worst place, for many orders of the same vehicles in a short time.

The same sum as the exact walk (:mod:`outshop.formation.walk`): each middle that crosses a border
changes the force, and the largest sum of changes so far, in the order of their heads, is the
worst place. Changes at one head are put in order with the falling ones first, so that the sums in
between never exceed both the sum before and the sum after.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from outshop.formation.task import Task, units

Ints = NDArray[np.int64]
MOST_PACKED = 2**62  # whole numbers of 64 bits, with their sign


class SwiftWalk:
    """Worst force of trains of one task.

    Parameters
    ----------
    task : Task
        The question.
    """

    def __init__(self, task: Task) -> None:
        profile, engine = task.profile, task.locomotive
        turn, climb = np.diff(profile.effective), np.diff(profile.grade)
        mass = np.array([v.mass_g for v in task.vehicles])
        keep = (np.abs(turn) > 0) | (np.abs(climb) > 0)
        self.borders = profile.borders[keep]
        self.rise = (turn[keep] > 0).astype(np.int64)
        self.engine_rise = (climb[keep] > 0).astype(np.int64)
        # one row of changes for each vehicle, and the engine's after them
        self.changes = np.vstack([np.outer(mass, turn[keep]), engine.mass_g * climb[keep]]) / 1000
        self.engine_row = len(mass)
        self.length = np.array(
            [2 * units(v.length_mm) for v in task.vehicles] + [2 * units(engine.length_mm)],
            dtype=np.int64,
        )
        self.rolling = [v.mass_g * v.rolling_permille / 1000 for v in task.vehicles]
        self.farthest = int(profile.borders[-1]) + int(self.length.sum())
        self.keys: dict[int, tuple[int, Ints, int]] = {}  # by number of vehicles

    def needed_g(self, order: Sequence[int]) -> float:
        """Give the force at the worst place of a train, from the engine backwards."""
        rolling = sum([self.rolling[i] for i in order])
        if not len(self.borders):
            return rolling
        rows = np.array((self.engine_row, *order))
        length = self.length[rows]
        middles = np.cumsum(length) - length // 2
        step, key, mask = self._keys(len(order))
        if step:
            by_head = (middles[:, None] * step + key).ravel()
            by_head.sort()
            by_head &= mask
        else:
            heads = (middles[:, None] + self.borders).ravel()
            by_head = np.lexsort((key.ravel(), heads))
        level = self.changes[rows].ravel()[by_head].cumsum()
        return rolling + max(0.0, float(level.max()))

    def _keys(self, number: int) -> tuple[int, Ints, int]:
        """Give what packs head, direction and place of a change into one whole number.

        Sorting plain numbers is several times as fast as sorting places by them.
        """
        if number not in self.keys:
            rows, columns = number + 1, len(self.borders)
            bits = (rows * columns).bit_length()
            step = 1 << (bits + 1)
            rise = np.vstack([self.engine_rise, np.tile(self.rise, (number, 1))])
            index = np.arange(rows * columns, dtype=np.int64).reshape(rows, columns)
            if self.farthest * step < MOST_PACKED:
                key = self.borders * step + (rise << bits) + index
            else:  # a line of thousands of kilometres: sort places, slowly
                step, key = 0, rise
            self.keys[number] = (step, key, (1 << bits) - 1)
        return self.keys[number]
