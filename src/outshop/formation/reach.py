"""Look for a train of just so many vehicles, so long, with so many rules kept.

The bounds tell what the best train could be at most; here a train that reaches just that is
sought. With the number fixed, annealing has one plain thing to lower: by how much the demands
are missed. Moves exchange vehicles and change their order; the first train that misses nothing
ends the search.
"""

import math
import random
import time
from collections.abc import Callable
from dataclasses import dataclass

from outshop.formation.joints import first_bad_joint
from outshop.formation.search import Judge, Order, as_train

# Costs of what is missed, in shares of the pull: our choice, tuned on random scenes.
LENGTH_COST = 5.0  # of too long or too short by the whole room
BROKEN_COST = 0.04  # of a forbidden rule, a lost fixed vehicle, a joint that does not couple
LACK_COST = 0.01  # of each unit of rule weight below the goal
FAR_COST = 0.004  # of each vehicle that stands between the train and keeping a rule
HOT, COLD = 0.01, 0.0004  # temperatures, in shares of the pull
STEPS = 6000
LOOK = 64  # moves between looks at the clock
LEAN = 1.6  # how strongly light and short vehicles are preferred when one is drawn
EVEN = 0.4  # share of draws in which all vehicles are alike


@dataclass(frozen=True, slots=True)
class Goal:
    """What the train must reach.

    Parameters
    ----------
    number : int
        Vehicles, just so many.
    length : int
        Least length of the vehicles in walk units.
    met : int
        Least weight of rules met.
    """

    number: int
    length: int = 0
    met: int = 0


@dataclass(frozen=True, slots=True)
class Reached:
    """Where a descent ended: the order that misses least, and by how much (0: the goal)."""

    order: Order
    missed: float


def reach(
    judge: Judge,
    goal: Goal,
    seconds: float,
    *,
    start: Order = (),
    steps: int = STEPS,
    seed: int = 1,
    allowed: Callable[[Order], bool] | None = None,
) -> Reached | None:
    """Descend once towards a train that reaches the goal.

    Parameters
    ----------
    judge : Judge
        Knows the task.
    goal : Goal
        What to reach.
    seconds : float
        Most time.
    start : Order
        A train to begin with; filled up, or cut, to the number.
    steps : int
        Moves; more cool more slowly.
    seed : int
        Same seed, same path (as far as the time goes).
    allowed : callable, optional
        Tells whether a train may be kept (such as: differs enough from others).

    Returns
    -------
    Reached or None
        None when the shelf has too few vehicles. A goal that is missed proves nothing.
    """
    if not 0 < goal.number <= len(judge.task.vehicles):
        return None
    rng = random.Random(seed)
    end = time.monotonic() + seconds
    current = _filled(judge, start, goal.number)
    cost = _missed(judge, goal, current, math.inf)
    near = Reached(current, math.inf)
    for step in range(steps):
        if cost < near.missed and (allowed is None or allowed(current)):
            near = Reached(current, cost)
        if near.missed <= 0 or (step % LOOK == 0 and time.monotonic() > end):
            break
        temperature = HOT * (COLD / HOT) ** (step / steps)
        most = cost - temperature * math.log(1.0 - rng.random())
        tried = _move(judge, current, rng)
        fresh = _missed(judge, goal, tried, most)
        if fresh <= most:
            current, cost = tried, fresh
    return near


def _filled(judge: Judge, start: Order, number: int) -> Order:
    """Fill a train up to a number with the lightest and shortest, or cut it."""
    order = list(start or sorted(judge.fixed))[:number]
    inside = set(order)
    for vehicle in judge.light.tolist():
        if len(order) >= number:
            break
        if vehicle not in inside:
            order.append(vehicle)
    return tuple(order)


def _missed(judge: Judge, goal: Goal, order: Order, most: float) -> float:
    """Tell by how much a train misses the goal; inf as soon as that is above ``most``."""
    task = judge.task
    length = judge.length_of(order)
    room = max(task.room_units, 1)
    cost = LENGTH_COST * (max(0, length - room) + max(0, goal.length - length)) / room
    if cost > most:
        return math.inf
    cost += LENGTH_COST * judge.beyond_platform(order) / room
    if judge.fixed:
        cost += BROKEN_COST * len(judge.fixed - set(order))
    if not judge.one_coupling:
        bad = first_bad_joint(task.locomotive.couplings[1], as_train(task, order))
        cost += 0 if bad is None else BROKEN_COST * (1 + len(order) - bad) / len(order)
    if judge.tests:
        cost += _rules_missed(judge, goal, order)
    if cost > most:
        return math.inf
    available = task.locomotive.available_g
    return cost + max(0.0, (judge.needed_g(order) - available - 1e-9) / available)


def _rules_missed(judge: Judge, goal: Goal, order: Order) -> float:
    met, far, cost = 0, 0.0, 0.0
    for weight, forbidden, keeps, short in judge.tests:
        if not (forbidden or goal.met):
            continue
        if keeps(order):
            met += weight
            continue
        far += short(order)
        cost += BROKEN_COST if forbidden else 0.0
    lack = max(0, goal.met - met)
    return cost + lack * LACK_COST + (far * FAR_COST if lack or cost else 0.0)


def _move(judge: Judge, order: Order, rng: random.Random) -> Order:
    """Exchange a vehicle, swap two, move one, or turn a stretch of the train about."""
    kind, number = rng.random(), len(order)
    one, other = rng.randrange(number), rng.randrange(number)
    if kind < 0.4 and number < len(judge.light):
        return (*order[:one], _drawn(judge, order, rng), *order[one + 1 :])
    if kind < 0.65:
        row = list(order)
        row[one], row[other] = row[other], row[one]
        return tuple(row)
    if kind < 0.9:
        rest = order[:one] + order[one + 1 :]
        return (*rest[:other], order[one], *rest[other:])
    low, high = sorted((one, other))
    return order[:low] + order[low : high + 1][::-1] + order[high + 1 :]


def _drawn(judge: Judge, order: Order, rng: random.Random) -> int:
    """Draw a vehicle that is not in the train."""
    supply = len(judge.light)
    while True:
        lean = 1.0 if rng.random() < EVEN else LEAN
        number = int(judge.light[int(supply * rng.random() ** lean)])
        if number not in order:
            return number
