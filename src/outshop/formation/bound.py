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

from outshop.formation.shape import Shape, shape_of
from outshop.formation.task import Task, units

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
MOST_POSITIONS = 12_000  # finer grids are coarsened: memory and time stay small
ACTIVE_HEADS = 64
STRETCHES = 32  # of the coarse linear program that gives the first prices
CHOSEN = 120  # vehicles in that program at first
ROUNDS, JOINING, LACK = 3, 60, 0.05  # of it; vehicles that join in each; worth that makes them
PATIENCE = 6  # steps without a better bound before the step length is halved
MEMORY = 0.7  # of the last direction in the next one: damps zigzags


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
        self.shape = shape_of(task, ())
        self.heads: list[int] = []
        self.active: frozenset[int] = frozenset()  # heads with a price when last asked
        self.slopes: Floats = np.zeros((0, 2 * self.positions + 1))
        self.rooms: Floats = np.zeros(0)
        self.rows: Floats = np.zeros((0, len(vehicles)))
        self.limits: Floats = np.zeros(0)
        self.kept: tuple[float, Floats, Floats] | None = None  # best bound, worths, slope field

    def set_rows(self, rows: Sequence[tuple[Floats, float]]) -> None:
        """Set the demands on the choice alone: row @ uses <= limit (rules of number and share)."""
        self.rows, self.limits = np.zeros((0, len(self.mass))), np.zeros(0)
        for row, limit in rows:
            size = float(np.abs(row).max(initial=0.0))
            if size > 0:
                self.rows = np.vstack([self.rows, row / size])
                self.limits = np.append(self.limits, limit / size)

    def set_shape(self, shape: Shape) -> None:
        """Set what may follow what: couplings and rules of order."""
        self.shape = shape

    def add_heads(self, heads: Sequence[int]) -> None:
        """Add demands "hauls with its head here" (half walk units)."""
        profile, engine = self.task.profile, self.task.locomotive
        fresh = [h for h in dict.fromkeys(heads) if h not in set(self.heads)]
        self._forget(len(self.heads) + len(fresh) - ACTIVE_HEADS)
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

    def _forget(self, number: int) -> None:
        """Drop so many heads, if there are as many whose price was zero when last asked."""
        idle = [k for k, h in enumerate(self.heads) if h not in self.active][: max(0, number)]
        self.heads = [h for k, h in enumerate(self.heads) if k not in set(idle)]
        self.slopes = np.delete(self.slopes, idle, axis=0)
        self.rooms = np.delete(self.rooms, idle)

    def count(self, target: float, seconds: float) -> Bound:
        """Bound the number of vehicles; stop early once it is below ``target`` + 1."""
        gain = np.ones(len(self.mass))
        found, kept, free = self._search(gain, None, target, target + 1 - 1e-6, seconds)
        weights = kept.heads / free
        priced = gain - kept.once - kept.rules @ self.rows
        priced = priced - self.mass * self.rolling * weights.sum()
        self.kept = (found.value, priced, weights @ self.slopes)
        return found

    def length(self, least: int, target: float, seconds: float) -> Bound:
        """Bound the vehicles' length (walk units) of trains of ``least`` vehicles or more."""
        gain = np.array([float(units(v.length_mm)) for v in self.task.vehicles])
        top = float(self.task.room_units)
        found, _, _ = self._search(gain / top, least, target / top, target / top, seconds)
        return Bound(min(found.value, 1.0) * top, found.heads)

    def _search(
        self, gain: Floats, least: int | None, target: float, enough: float, seconds: float
    ) -> "tuple[Bound, Prices, float]":
        end = time.monotonic() + seconds
        free = max(float(self.rooms.min(initial=self.task.locomotive.available_g)), 1e-6)
        prices = begin_prices(self, gain, least, free)
        best, kept = float("inf"), prices
        theta, stale, way = 1.0, 0, None
        while True:
            value, slope = self._evaluate(gain, least, prices, free)
            if value < best - 1e-7:
                best, kept, stale = value, prices, 0
            else:
                stale += 1
            if stale >= PATIENCE:
                theta, stale, prices, way = theta / 2, 0, kept, None
                continue
            way = slope if way is None else slope.plus(way, MEMORY)
            size = way.size_squared()
            if best <= enough or theta < 1e-4 or size == 0 or time.monotonic() > end:
                break
            aim = min(target, best - 1e-3 * max(1.0, abs(best)))
            prices = prices.moved(way, theta * (value - aim) / size)
        active = tuple(h for h, price in zip(self.heads, kept.heads, strict=True) if price > 1e-9)
        self.active = frozenset(active)
        return Bound(best, active), kept, free

    def _evaluate(
        self, gain: Floats, least: int | None, prices: "Prices", free: float
    ) -> tuple[float, "Prices"]:
        weights = prices.heads / free
        field = weights @ self.slopes
        fixed = gain + prices.least - prices.once - prices.rules @ self.rows
        fixed = fixed - self.mass * self.rolling * weights.sum()
        value, used, spent = self._path(fixed, field)
        over = self.rooms / free
        total = value + prices.once.sum() + float(prices.heads @ over + prices.rules @ self.limits)
        lack = 0.0
        if least is not None:
            total -= prices.least * least
            lack = float(used.sum() - least)
        need = (used * self.mass * self.rolling).sum() + spent
        rules = self.limits - self.rows @ used
        return total, Prices(over - need / free, 1 - used, rules, lack)

    def _path(self, fixed: Floats, field: Floats) -> tuple[float, Floats, Floats]:
        """Best path of priced vehicles: value, uses of each, and slope load at each head."""
        best, pick = self._backward(fixed, field)
        used = np.zeros(len(self.steps))
        spent = np.zeros(len(self.heads))
        state, at = 0, 0
        while pick[state][at] >= 0:
            variant = pick[state][at]
            chosen = self.shape.who[variant]
            used[chosen] += 1
            spent = spent + self.mass[chosen] * self.slopes[:, 2 * at + self.steps[chosen]]
            state, at = int(self.shape.follow[state][variant]), at + int(self.steps[chosen])
        return float(best[0][0]), used, spent

    def _backward(self, fixed: Floats, field: Floats) -> tuple[Floats, Ints]:
        """Best worth from each state and position to the train's end, and what gives it.

        A last row stands for what may not be: minus infinity everywhere.
        """
        n, shape = self.positions, self.shape
        best = np.full((len(shape.final) + 1, n + 1), -np.inf)
        best[:-1][shape.final] = 0.0
        pick = np.full((len(shape.final), n + 1), -1, dtype=int)
        block = int(self.steps.min()) if len(self.steps) else 1
        top = n - block
        while top >= 0:
            low = max(0, top - block + 1)
            place = np.arange(low, top + 1)
            end = place[:, None] + self.steps[None, :]
            worth = self._worth(fixed, field, place[:, None])
            worth = np.where(end <= n, worth, -np.inf)[:, shape.who]
            end = np.minimum(end, n)[:, shape.who]
            for state, follow in enumerate(shape.follow):
                some = np.flatnonzero(follow < len(shape.final))
                if not len(some):
                    continue
                whole = worth[:, some] + best[follow[some][None, :], end[:, some]]
                arg = whole.argmax(axis=1)
                value = whole[np.arange(len(place)), arg]
                better = value > best[state][place]
                best[state][place[better]] = value[better]
                pick[state][place[better]] = some[arg[better]]
            top = low - 1
        return best, pick

    def _forward(self, fixed: Floats, field: Floats) -> Floats:
        """Best worth from the engine to each state and position."""
        n, shape = self.positions, self.shape
        best = np.full((len(shape.final), n + 1), -np.inf)
        best[0][0] = 0.0
        block = int(self.steps.min())
        for low in range(1, n + 1, block):
            place = np.arange(low, min(low + block, n + 1))
            begin = place[:, None] - self.steps[None, :]
            known = np.maximum(begin, 0)
            worth = np.where(begin >= 0, self._worth(fixed, field, known), -np.inf)[:, shape.who]
            known = known[:, shape.who]
            for state, follow in enumerate(shape.follow):
                whole = worth + best[state][known]
                for after in np.unique(follow[follow < len(shape.final)]):
                    value = whole[:, follow == after].max(axis=1)
                    best[after][place] = np.maximum(best[after][place], value)
        return best

    def _worth(self, fixed: Floats, field: Floats, begin: Ints) -> Floats:
        """Worth of each vehicle (columns) that begins at a position (rows, or the same shape)."""
        mid = np.minimum(2 * begin + self.steps[None, :], 2 * self.positions)
        worth: Floats = fixed[None, :] - self.mass[None, :] * field[mid]
        return worth

    def places_left(self, target: float) -> dict[int, tuple[int, int]]:
        """Where each vehicle may still stand in a train of ``target`` vehicles or more.

        A vehicle at a place where even the best priced train through it stays below the target
        cannot stand there (reduced-cost fixing).

        Returns
        -------
        dict of vehicle number -> (first, last)
            Ends of the middles that are left, in half steps behind the engine; a vehicle that
            cannot take part is not in it. Empty before :meth:`count` has run.
        """
        if self.kept is None:
            return {}
        total, fixed, field = self.kept
        if total == -np.inf:
            return {}
        back, _ = self._backward(fixed, field)
        rest = total - float(back[0][0])
        ahead = self._forward(fixed, field)
        left: dict[int, tuple[int, int]] = {}
        for variant, i in enumerate(self.shape.who.tolist()):
            follow = self.shape.follow[:, variant]
            states = np.flatnonzero(follow < len(self.shape.final))
            begin = np.arange(max(0, self.positions - int(self.steps[i]) + 1))
            if not len(states) or not len(begin):
                continue
            around = ahead[states][:, begin] + back[follow[states]][:, begin + self.steps[i]]
            mid = np.minimum(2 * begin + self.steps[i], 2 * self.positions)
            through = around.max(axis=0) + fixed[i] - self.mass[i] * field[mid] + rest
            fine = np.flatnonzero(through >= target - 1e-6)
            if len(fine):
                low, high = (2 * int(fine[k]) + int(self.steps[i]) for k in (0, -1))
                known = left.get(i, (low, high))
                left[i] = (min(low, known[0]), max(high, known[1]) + self.blur)
        return left


@dataclass(frozen=True, slots=True)
class Prices:
    """Prices (or a direction) of heads, of each vehicle once, of rules, of the least number."""

    heads: Floats
    once: Floats
    rules: Floats
    least: float

    def size_squared(self) -> float:
        """Squared length of the direction."""
        parts = (self.heads, self.once, self.rules)
        return float(sum(p @ p for p in parts) + self.least**2)

    def plus(self, other: "Prices", share: float) -> "Prices":
        """Add a share of another direction."""
        return Prices(
            self.heads + share * other.heads,
            self.once + share * other.once,
            self.rules + share * other.rules,
            self.least + share * other.least,
        )

    def moved(self, direction: "Prices", step: float) -> "Prices":
        """Step against the subgradient; prices stay zero or more."""
        return Prices(
            np.maximum(0.0, self.heads - step * direction.heads),
            np.maximum(0.0, self.once - step * direction.once),
            np.maximum(0.0, self.rules - step * direction.rules),
            max(0.0, self.least - step * direction.least),
        )


def begin_prices(bound: PathBound, gain: Floats, least: int | None, free: float) -> Prices:
    """Take the prices of a coarse linear program: so much of each vehicle in each stretch.

    The stretches hold as much length as they are long, each vehicle is used once at most, and
    the demands hold with the slope at the middle of a stretch. Its optimum is near the truth but
    no bound; its prices start the search that gives one. Vehicles left out at first that would be
    worth more than these prices join in further rounds.
    """
    chosen, prices = _promising(bound, gain), None
    for _ in range(ROUNDS):
        prices = _coarse_prices(bound, gain, least, free, chosen)
        if prices is None:
            return _plain_prices(bound, gain, free)
        lacking = prices.once.copy()
        lacking[chosen] = 0.0
        joining = np.argsort(-lacking)[:JOINING]
        joining = joining[lacking[joining] > LACK]
        if not len(joining):
            break
        chosen = np.sort(np.concatenate([chosen, joining]))
    return prices or _plain_prices(bound, gain, free)


def _coarse_prices(
    bound: PathBound, gain: Floats, least: int | None, free: float, chosen: Ints
) -> Prices | None:
    """Solve the coarse program with the chosen vehicles; None when that took too long."""
    top, few = max(bound.positions, 1), len(chosen)
    stretches = min(STRETCHES, max(1, top // max(1, int(bound.steps.min()) // 2)))
    width = top / stretches
    mids = np.minimum((2 * (np.arange(stretches) + 0.5) * width).astype(int), 2 * top)
    # columns: vehicle-major, one for each chosen vehicle and stretch
    slope = bound.slopes[:, mids] / free
    mass, roll = bound.mass[chosen], bound.rolling[chosen]
    rows = [
        (mass[None, :, None] * (slope[:, None, :] + roll[None, :, None] / free)).reshape(
            len(bound.heads), few * stretches
        ),
        np.repeat(bound.rows[:, chosen], stretches, axis=1),
        np.tile(np.eye(stretches), few) * np.repeat(bound.steps[chosen], stretches) / width,
        np.kron(np.eye(few), np.ones(stretches)),
    ]
    limits = [bound.rooms / free, bound.limits, np.ones(stretches), np.ones(few)]
    if least is not None:
        rows.append(-np.ones((1, few * stretches)))
        limits.append(np.array([-float(least)]))
    from scipy.optimize import linprog  # slow to load

    solved = linprog(
        -np.repeat(gain[chosen], stretches),
        A_ub=np.vstack(rows),
        b_ub=np.concatenate(limits),
        method="highs",
        options={"time_limit": 3.0},
    )
    if solved.status != 0:
        return None
    h, q = len(bound.heads), len(bound.limits)
    price = np.maximum(0.0, -solved.ineqlin.marginals)
    heads, rules = price[:h], price[h : h + q]
    space = price[h + q : h + q + stretches] / width
    more = float(price[-1]) if least is not None else 0.0
    cost = bound.mass[:, None] * (heads @ slope)[None, :] + bound.steps[:, None] * space[None, :]
    worth = gain + more - bound.mass * bound.rolling * heads.sum() / free - rules @ bound.rows
    once = np.maximum(0.0, (worth[:, None] - cost).max(axis=1))
    return Prices(heads, once if len(gain) else worth, rules, more)


def _plain_prices(bound: PathBound, gain: Floats, free: float) -> Prices:
    """Start from a knapsack with one mean slope, when the linear program took too long."""
    heads = np.zeros(len(bound.heads))
    slope = float(bound.slopes.mean()) if len(heads) else 0.0
    weight = np.maximum(bound.mass * (bound.rolling + slope), 1e-9)
    order = np.argsort(-gain / weight)
    filled = int(np.searchsorted(np.cumsum(weight[order]), free))
    price = 0.0
    if filled < len(order) and len(heads):
        price = float(gain[order[filled]] / weight[order[filled]])
        heads[:] = price * free / len(heads)
    once = np.maximum(0.0, gain - price * weight)
    return Prices(heads, once, np.zeros(len(bound.limits)), 0.0)


def _promising(bound: PathBound, gain: Floats) -> NDArray[np.int64]:
    """Give the vehicles that ask least for what they give, for several exchange rates."""
    if len(gain) <= CHOSEN:
        return np.arange(len(gain))
    slope = float(bound.slopes.max(initial=0.0)) / 2
    force = bound.mass * (bound.rolling + slope)
    force = force / max(float(force.mean()), 1e-12)  # nothing rolls where force is no demand
    room = bound.steps / bound.steps.mean()
    found: set[int] = set()
    for rate in (0.0, 0.25, 0.5, 0.75, 1.0):
        order = np.argsort((rate * force + (1 - rate) * room) / np.maximum(gain, 1e-12))
        found |= set(order[: CHOSEN // 3].tolist())
    return np.array(sorted(found))


def _blurred(row: Floats, blur: int) -> Floats:
    """Smallest slope within the next ``blur`` half steps."""
    if not blur:
        return row
    from scipy.ndimage import minimum_filter1d

    padded = np.append(row, np.full(blur, row[-1]))
    return minimum_filter1d(padded, blur + 1, origin=-(blur // 2))[: len(row)]
