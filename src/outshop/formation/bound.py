"""A true upper bound on what any train of the shelf can reach on this line.

Lagrange relaxation. The demands "each vehicle once" and "hauls with its head at h" (for chosen
heads h) get prices; what is left is a longest path over the positions behind the engine, found
exactly by dynamic programming. Whatever the prices, no train that keeps the demands can be
better than the priced optimum (weak duality; Fisher, Management Science 27 (1981) 1-18), so
stopping early only makes the bound looser. Prices move by subgradient steps with Polyak's length.
"""

import time
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from outshop.formation import walk as walking
from outshop.formation.task import Task, units

Floats = NDArray[np.float64]
MOST_POSITIONS = 12_000  # finer grids are coarsened: memory and time stay small
ACTIVE_HEADS = 160
PATIENCE = 12  # steps without a better bound before the step length is halved


@dataclass(frozen=True, slots=True)
class Bound:
    """Upper bound of an aim, and the heads whose prices mattered."""

    value: float
    heads: tuple[int, ...]


class PathBound:
    """The relaxation of one task; :meth:`count` and :meth:`length` give the two bounds.

    Parameters
    ----------
    task : Task
        The question.
    """

    def __init__(self, task: Task) -> None:
        self.task = task
        vehicles = task.vehicles
        step = task.step
        room = task.room_units
        self.coarse = max(step, -(-room // MOST_POSITIONS)) if room > 0 else step
        if self.coarse != step:
            self.coarse = -(-self.coarse // step) * step
        exact = self.coarse == step
        self.positions = room // self.coarse
        self.steps = np.array([units(v.length_mm) // self.coarse for v in vehicles], dtype=int)
        self.steps = np.maximum(self.steps, 1)
        self.mass = np.array([v.mass_g for v in vehicles]) / 1000
        self.rolling = np.array([v.rolling_permille for v in vehicles])
        # lengths rounded down let a middle lie up to this many half steps further back
        self.blur = 0 if exact else 2 * int(room // max(self.coarse * self.steps.min(), 1) + 2)
        ends = [v.couplings for v in vehicles]
        names = sorted({task.locomotive.couplings[1], *(c for pair in ends for c in pair)})
        self.start = names.index(task.locomotive.couplings[1])
        self.joints = len(names)
        self.ways = _ways([(names.index(a), names.index(b)) for a, b in ends])
        self.heads: list[int] = []
        self.slopes: Floats = np.zeros((0, 2 * self.positions + 1))
        self.rooms: Floats = np.zeros(0)

    def add_heads(self, heads: Sequence[int]) -> None:
        """Add demands "hauls with its head here" (half walk units)."""
        profile, engine = self.task.profile, self.task.locomotive
        fresh = [h for h in dict.fromkeys(heads) if h not in set(self.heads)]
        fresh = fresh[: max(0, ACTIVE_HEADS - len(self.heads))]
        if not fresh:
            return
        first = units(engine.length_mm)
        offsets = 2 * first + self.coarse * np.arange(2 * self.positions + 1, dtype=np.int64)
        rows, rooms = [], []
        for head in fresh:
            section = np.searchsorted(profile.borders, head - offsets, side="right")
            rows.append(_blurred(profile.effective[section], self.blur))
            own = int(np.searchsorted(profile.borders, head - first, side="right"))
            rooms.append(engine.available_g - engine.mass_g * profile.grade[own] / 1000)
        self.heads += fresh
        self.slopes = np.vstack([self.slopes, rows])
        self.rooms = np.append(self.rooms, rooms)

    def count(self, target: float, seconds: float) -> Bound:
        """Bound the number of vehicles; stop early once it is below ``target`` + 1."""
        gain = np.ones(len(self.mass))
        return self._search(gain, None, target, target + 1 - 1e-6, seconds)

    def length(self, least: int, target: float, seconds: float) -> Bound:
        """Bound the vehicles' length (walk units) of trains of ``least`` vehicles or more."""
        gain = np.array([float(units(v.length_mm)) for v in self.task.vehicles])
        top = float(self.task.room_units)
        found = self._search(gain / top, least, target / top, target / top, seconds)
        return Bound(min(found.value, 1.0) * top, found.heads)

    def _search(
        self, gain: Floats, least: int | None, target: float, enough: float, seconds: float
    ) -> Bound:
        end = time.monotonic() + seconds
        free = max(float(self.rooms.min(initial=self.task.locomotive.available_g)), 1e-6)
        prices = _Prices.begin(self, gain, free)
        best, kept = float("inf"), prices
        theta, stale = 1.0, 0
        while True:
            value, slope = self._evaluate(gain, least, prices, free)
            if value < best - 1e-7:
                best, kept, stale = value, prices, 0
            else:
                stale += 1
            if stale >= PATIENCE:
                theta, stale, prices = theta / 2, 0, kept
                continue
            size = slope.size_squared()
            if best <= enough or theta < 1e-4 or size == 0 or time.monotonic() > end:
                break
            aim = min(target, best - 1e-3 * max(1.0, abs(best)))
            prices = prices.moved(slope, theta * (value - aim) / size)
        active = tuple(h for h, price in zip(self.heads, kept.heads, strict=True) if price > 1e-9)
        return Bound(best, active)

    def _evaluate(
        self, gain: Floats, least: int | None, prices: "_Prices", free: float
    ) -> tuple[float, "_Prices"]:
        weights = prices.heads / free
        field = weights @ self.slopes
        fixed = gain + prices.least - prices.once - self.mass * self.rolling * weights.sum()
        value, used, spent = self._path(fixed, field)
        over = self.rooms / free
        total = value + prices.once.sum() + float(prices.heads @ over)
        lack = 0.0
        if least is not None:
            total -= prices.least * least
            lack = float(used.sum() - least)
        need = (used * self.mass * self.rolling).sum() + spent
        return total, _Prices(over - need / free, 1 - used, lack if least is not None else 0.0)

    def _path(self, fixed: Floats, field: Floats) -> tuple[float, Floats, Floats]:
        """Best path of priced vehicles: value, uses of each, and slope load at each head."""
        n, joints = self.positions, self.joints
        best = np.zeros((joints, n + 1))
        pick = np.full((joints, n + 1), -1, dtype=int)
        after = np.zeros((joints, n + 1), dtype=int)
        block = int(self.steps.min()) if len(self.steps) else 1
        top = n - block
        while top >= 0:
            low = max(0, top - block + 1)
            place = np.arange(low, top + 1)
            for front, rear, members in self.ways:
                end = place[:, None] + self.steps[members][None, :]
                fits = end <= n
                mid = np.minimum(2 * place[:, None] + self.steps[members][None, :], 2 * n)
                worth = fixed[members][None, :] - self.mass[members][None, :] * field[mid]
                worth = np.where(fits, worth + best[rear][np.minimum(end, n)], -np.inf)
                arg = worth.argmax(axis=1)
                top_value = worth[np.arange(len(place)), arg]
                better = top_value > best[front][place]
                best[front][place[better]] = top_value[better]
                pick[front][place[better]] = members[arg[better]]
                after[front][place[better]] = rear
            top = low - 1
        used = np.zeros(len(self.steps))
        spent = np.zeros(len(self.heads))
        joint, at = self.start, 0
        while pick[joint][at] >= 0:
            chosen = pick[joint][at]
            used[chosen] += 1
            spent = spent + self.mass[chosen] * self.slopes[:, 2 * at + self.steps[chosen]]
            joint, at = int(after[joint][at]), at + int(self.steps[chosen])
        return float(best[self.start][0]), used, spent


@dataclass(frozen=True, slots=True)
class _Prices:
    """Prices (or a direction) of heads, of each vehicle once, and of the least number."""

    heads: Floats
    once: Floats
    least: float

    @classmethod
    def begin(cls, bound: PathBound, gain: Floats, free: float) -> "_Prices":
        """Start from the knapsack of one mean slope."""
        heads = np.zeros(len(bound.heads))
        slope = float(bound.slopes.max(initial=0.0)) / 2 if len(heads) else 0.0
        weight = np.maximum(bound.mass * (bound.rolling + slope), 1e-9)
        order = np.argsort(-gain / weight)
        filled = int(np.searchsorted(np.cumsum(weight[order]), free))
        last = order[min(filled, len(order) - 1)]
        price = gain[last] / weight[last] if filled < len(order) else 0.0
        if len(heads):
            heads[:] = price * free / len(heads)
        return cls(heads, np.maximum(0.0, gain - price * weight), 0.0)

    def size_squared(self) -> float:
        """Squared length of the direction."""
        return float(self.heads @ self.heads + self.once @ self.once + self.least**2)

    def moved(self, direction: "_Prices", step: float) -> "_Prices":
        """Step against the subgradient; prices stay zero or more."""
        return _Prices(
            np.maximum(0.0, self.heads - step * direction.heads),
            np.maximum(0.0, self.once - step * direction.once),
            max(0.0, self.least - step * direction.least),
        )


def _ways(ends: list[tuple[int, int]]) -> list[tuple[int, int, NDArray[np.int64]]]:
    """Group vehicles by the couplings they show when run either way round."""
    found: dict[tuple[int, int], list[int]] = {}
    for i, (front, rear) in enumerate(ends):
        for pair in {(front, rear), (rear, front)}:
            found.setdefault(pair, []).append(i)
    return [(a, b, np.array(members)) for (a, b), members in sorted(found.items())]


def _blurred(row: Floats, blur: int) -> Floats:
    """Smallest slope within the next ``blur`` half steps."""
    if not blur:
        return row
    from scipy.ndimage import minimum_filter1d

    padded = np.append(row, np.full(blur, row[-1]))
    return minimum_filter1d(padded, blur + 1, origin=-(blur // 2))[: len(row)]
