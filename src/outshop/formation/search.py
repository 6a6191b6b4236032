"""Find good trains fast: simulated annealing over whole trains, each walked exactly.

Moves insert, drop, replace, swap, shift and reverse. Demands that a train breaks (force, length,
joints, forbidden rules, fixed vehicles) cost energy, so the search may pass through bad trains;
only trains that keep them all are kept.
"""

import math
import random
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from outshop.formation.joints import first_bad_joint
from outshop.formation.platform import at_platform, is_coach
from outshop.formation.rules import WEIGHTS, rules_of, shortfall, tester
from outshop.formation.scene import Vehicle
from outshop.formation.swift import SwiftWalk
from outshop.formation.task import Task, units

Order = tuple[int, ...]  # vehicles by their number in the task, from the engine backwards
Value = tuple[float, int, int]  # score, vehicles, length in walk units; larger is better

BROKEN_COST = 3.0  # of a forbidden rule, a lost fixed vehicle, a joint that does not couple
OVER_COST = 15.0  # at the start, of a train too heavy or too long by its whole measure
SWING = 1.25  # by which that cost follows the share of faulty trains
RULE_WORTH = 1.5  # vehicles that one unit of rule weight is worth to the walk, not to the choice
FAR_COST = 0.2  # of each vehicle that stands between a train and keeping a rule
MOST_REMEMBERED = 200_000
HOT, COLD = 0.1, 0.01  # temperatures, in vehicles
ROUND = 32  # moves between looks at the clock
STAGES = ("number", "number", "length")  # each cooled down by itself
RATES = (0.0, 0.2, 0.35, 0.5, 0.65, 0.8, 1.0)
LEAN = 1.5  # how strongly light and short vehicles are preferred: the power of the uniform draw


@dataclass(frozen=True, slots=True)
class Found:
    """The best train of a search, and how long the first took."""

    order: Order
    value: Value
    first_after_s: float
    spent_s: float = 0.0


class Weighed(NamedTuple):
    """A train's faults and worth."""

    over: float  # share by which force and length are exceeded
    broken: float  # cost of rules, joints and fixed vehicles broken
    reward: float
    value: Value  # (-1, 0, 0) for a train with faults


class Judge:
    """Values and faults of whole trains, fast.

    Parameters
    ----------
    task : Task
        The question.
    aim : str
        ``longest`` or ``believable``.
    loose : frozenset of str
        Ids of rules that do not count.
    """

    def __init__(self, task: Task, aim: str, loose: frozenset[str] = frozenset()) -> None:
        self.task, self.aim = task, aim
        engine = task.locomotive
        self.swift = SwiftWalk(task)
        self.length = np.array([units(v.length_mm) for v in task.vehicles], dtype=np.int64)
        self.mass = np.array([v.mass_g for v in task.vehicles])
        self.rolling = self.mass * np.array([v.rolling_permille for v in task.vehicles]) / 1000
        self.platform = task.platform_units
        self.coach = [is_coach(v) for v in task.vehicles]
        self.lengths: list[int] = self.length.tolist()
        rules = rules_of(task.recipe, task.scene.wish)
        self.rules = tuple(r for r in rules if r.id not in loose)
        wish = task.scene.wish
        self.tests = [
            (
                WEIGHTS[r.strength],
                r.strength == "forbidden",
                tester(r, task.vehicles, wish),
                shortfall(r, task.vehicles, wish),
            )
            for r in self.rules
        ]
        self.total = sum(WEIGHTS[r.strength] for r in self.rules)
        number = {v.name: i for i, v in enumerate(task.vehicles)}
        self.fixed = frozenset(number[n] for n in task.scene.wish.fixed if n in number)
        ends = {c for v in task.vehicles for c in v.couplings} | {engine.couplings[1]}
        self.one_coupling = len(ends) <= 1
        mean = float(task.profile.effective.max()) / 2000
        self.force = (self.rolling + self.mass * mean) / engine.available_g
        self.room = self.length / max(task.room_units, 1)
        self.light = np.argsort(self.force + self.room, kind="stable")
        self.tuned = "number"
        self.seen: dict[Order, Weighed] = {}

    def tune(self, towards: str) -> None:
        """Turn the energy towards ``number`` (light and short vehicles first) or ``length``."""
        if towards != self.tuned:
            self.tuned = towards
            self.seen.clear()

    def needed_g(self, order: Order) -> float:
        """Force at the worst place; the same as the exact walk, with fewer steps."""
        return self.swift.needed_g(order)

    def length_of(self, order: Order) -> int:
        """Length of the vehicles in walk units."""
        return sum([self.lengths[i] for i in order])

    def beyond_platform(self, order: Order) -> int:
        """Length, in walk units, by which the coaches exceed the platform."""
        if self.platform is None:
            return 0
        coach = [self.coach[i] for i in order]
        return max(0, at_platform(coach, [self.lengths[i] for i in order]) - self.platform)

    def weigh(self, order: Order) -> "Weighed":
        """Give what a train is worth, and what it breaks."""
        if order in self.seen:
            return self.seen[order]
        over, broken, kept, needed, far = self._faults(order)
        score = 100.0 * kept / self.total if self.total else 100.0
        length = self.length_of(order)
        reward = len(order) + 0.9 * length / max(self.task.room_units, 1)
        if self.tuned == "number":
            reward = len(order) - needed / self.task.locomotive.available_g
            reward -= length / max(self.task.room_units, 1)
        if self.aim == "believable":
            reward += kept * RULE_WORTH - far * FAR_COST
        good = over == 0 and broken == 0
        value = (score, len(order), length) if good else (-1.0, 0, 0)
        if len(self.seen) > MOST_REMEMBERED:
            self.seen.clear()
        self.seen[order] = Weighed(over, broken, reward, value)
        return self.seen[order]

    def keeps(self, order: Order) -> bool:
        """Tell whether a train fits, couples and hauls, whatever the rules say."""
        if self.length_of(order) > self.task.room_units or self.beyond_platform(order):
            return False
        train = as_train(self.task, order)
        if first_bad_joint(self.task.locomotive.couplings[1], train) is not None:
            return False
        return self.needed_g(order) <= self.task.locomotive.available_g + 1e-9

    def _faults(self, order: Order) -> tuple[float, float, int, float, float]:
        broken = BROKEN_COST * len(self.fixed - set(order))
        if not self.one_coupling:
            train = as_train(self.task, order)
            bad = first_bad_joint(self.task.locomotive.couplings[1], train)
            broken += 0 if bad is None else BROKEN_COST * (1 + len(order) - bad) / len(order)
        met, far = 0, 0.0
        for weight, forbidden, keeps, short in self.tests:
            if keeps(order):
                met += weight
                continue
            far += weight * short(order)
            broken += BROKEN_COST if forbidden else 0.0
        room = max(self.task.room_units, 1)
        over = max(0.0, (self.length_of(order) - self.task.room_units) / room)
        over += self.beyond_platform(order) / room
        available = self.task.locomotive.available_g
        needed = self.needed_g(order)
        if needed > available + 1e-9:
            over += needed / available - 1
        return over, broken, met, needed, far


def better(one: Value, other: Value, aim: str) -> bool:
    """Tell whether one value beats another: by score first only when believable is the aim."""
    return (one if aim == "believable" else one[1:]) > (other if aim == "believable" else other[1:])


def search(
    judge: Judge,
    seconds: float,
    *,
    start: Order = (),
    seed: int = 1,
    allowed: Callable[[Order], bool] | None = None,
    enough: Callable[[Value], bool] | None = None,
    steps: int | None = None,
) -> Found | None:
    """Search for a good train.

    Parameters
    ----------
    judge : Judge
        Values trains.
    seconds : float
        Time to spend.
    start : Order
        A train to begin with.
    seed : int
        Same seed, same path (as far as the time goes).
    allowed : callable, optional
        Tells whether a train may be kept (such as: differs enough from others).
    enough : callable, optional
        Stops the search when a value is good enough.
    steps : int, optional
        Most moves; for a search that is the same on any machine.

    Returns
    -------
    Found or None
        None when no train kept all demands.
    """
    rng = random.Random(seed)
    begin = time.monotonic()
    supply = len(judge.task.vehicles)
    judge.tune(STAGES[0])
    current, now = start, judge.weigh(start)
    best: Found | None = None
    if now.value[0] >= 0 and current and (allowed is None or allowed(current)):
        best = Found(current, now.value, 0.0)
    done, faulty, share, cost = 0, 0, 0.0, OVER_COST
    temperature = HOT
    while supply and share < 1:
        if done % ROUND == 0:
            spent = (time.monotonic() - begin) / seconds if seconds > 0 else 1.0
            share = max(spent, done / steps if steps else 0.0)
            stage = min(int(share * len(STAGES)), len(STAGES) - 1)
            if judge.tuned != STAGES[stage]:
                judge.tune(STAGES[stage])
                current = best.order if best else current
                now = judge.weigh(current)
            temperature = HOT * (COLD / HOT) ** ((len(STAGES) * share) % 1)
            # walk along the edge of what is possible: about half the trains faulty
            cost = min(max(cost * SWING ** (2 * faulty / ROUND - 1), 4.0), 400.0)
            faulty = 0
        done += 1
        tried = _move(current, supply, judge, rng)
        fresh = judge.weigh(tried)
        rise = cost * (fresh.over - now.over) + fresh.broken - now.broken
        rise += now.reward - fresh.reward
        if rise <= 0 or rng.random() < math.exp(-rise / temperature):
            current, now = tried, fresh
            good = fresh.value[0] >= 0 and len(tried) > 0
            if (
                good
                and (best is None or better(fresh.value, best.value, judge.aim))
                and (allowed is None or allowed(tried))
            ):
                first = time.monotonic() - begin if best is None else best.first_after_s
                best = Found(tried, fresh.value, first)
                if enough is not None and enough(fresh.value):
                    break
        faulty += now.over > 0
    if best is not None:
        best = replace(best, spent_s=time.monotonic() - begin)
    return best


def greedy(judge: Judge) -> Order:
    """Fill a train with what asks least, for several exchange rates of force against length."""
    best: Order = ()
    for rate in RATES:
        order: Order = tuple(sorted(judge.fixed))
        for number in np.argsort(rate * judge.force + (1 - rate) * judge.room, kind="stable"):
            longer = (*order, int(number))
            if int(number) in order or judge.keeps(longer) is False:
                continue
            order = longer
        best = max(best, order, key=len)
    return best


def _move(order: Order, supply: int, judge: Judge, rng: random.Random) -> Order:
    kind = rng.random()
    n = len(order)
    if n == 0 or (kind < 0.3 and n < supply):
        at = rng.randint(0, n)
        return (*order[:at], _fresh(order, supply, judge, rng), *order[at:])
    at = rng.randrange(n)
    if kind < 0.55 and n < supply:
        return (*order[:at], _fresh(order, supply, judge, rng), *order[at + 1 :])
    if kind < 0.65:
        return order[:at] + order[at + 1 :]
    other = rng.randrange(n)
    low, high = sorted((at, other))
    if kind < 0.8:
        row = list(order)
        row[low], row[high] = row[high], row[low]
        return tuple(row)
    if kind < 0.93:
        rest = order[:at] + order[at + 1 :]
        return (*rest[:other], order[at], *rest[other:])
    return order[:low] + order[low : high + 1][::-1] + order[high + 1 :]


def _fresh(order: Order, supply: int, judge: Judge, rng: random.Random) -> int:
    """Draw a vehicle that is not in the train, light and short ones more often."""
    while True:
        number = int(judge.light[int(supply * rng.random() ** LEAN)])
        if number not in order:
            return number


def as_train(task: Task, order: Sequence[int]) -> tuple[Vehicle, ...]:
    """Give the vehicles of an order."""
    return tuple(task.vehicles[i] for i in order)
