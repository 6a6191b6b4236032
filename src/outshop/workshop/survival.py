"""How long parts last, from the collection's own history (Kaplan and Meier 1958).

A part still in use is a life not yet ended. Before enough parts have failed there is
silence: a curve drawn from two failures misleads.
"""

import math
import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable, Reading

FEWEST_FAILURES = 5  # our choice: fewer leave the median's interval open almost always


@dataclass(frozen=True, slots=True)
class Life:
    """One part's life: how long, and whether it ended in failure (or still runs)."""

    length: float
    failed: bool

    def __post_init__(self) -> None:
        """Check once, at the door."""
        if not (math.isfinite(self.length) and self.length >= 0):
            message = f"a life must last 0 or longer; got {self.length}"
            raise InputError(message)


@dataclass(frozen=True, slots=True)
class Survival:
    """A survival curve.

    Parameters
    ----------
    times : tuple of float
        Ages at which parts failed, rising, in ``unit``.
    alive : tuple of float
        Share still alive just after each of these ages.
    low, high : tuple of float
        Pointwise 95 % interval (log-log, Kalbfleisch and Prentice 1980).
    unit : str
        ``h`` or ``years``.
    lives, failures : int
        How many it stands on.
    """

    times: tuple[float, ...]
    alive: tuple[float, ...]
    low: tuple[float, ...]
    high: tuple[float, ...]
    unit: str
    lives: int
    failures: int

    def at(self, age: float) -> Reading:
        """Give the share still alive at an age, in percent; silent beyond the last life."""
        if not (math.isfinite(age) and age >= 0):
            message = f"an age must be 0 or more; got {age}"
            raise InputError(message)
        passed = [i for i, time in enumerate(self.times) if time <= age]
        if not passed:
            return Estimate.exact(100.0, "percent", "no part failed so early")
        i = passed[-1]
        if not math.isfinite(self.low[i] + self.high[i]):
            return NotMeasurable("too few parts got so old", "percent")
        low, high = 100 * self.low[i], 100 * self.high[i]
        value = min(max(100 * self.alive[i], low), high)
        return Estimate(value, low, high, "percent", method="Kaplan–Meier, log-log interval")

    @property
    def median(self) -> Reading:
        """Age by which half have failed, with its interval (Brookmeyer and Crowley 1982)."""
        value = _first(self.times, self.alive)
        low, high = _first(self.times, self.low), _first(self.times, self.high)
        if value is None or low is None or high is None:
            return NotMeasurable("not half of the parts failed surely enough yet", self.unit)
        method = "Kaplan–Meier median, inverted log-log interval"
        return Estimate(value, min(low, value), max(high, value), self.unit, method=method)


def survival(lives: Sequence[Life], unit: str) -> Survival | NotMeasurable:
    """Give the survival curve of one kind of part.

    Parameters
    ----------
    lives : sequence of Life
        Lengths in ``unit``, ended or not.
    unit : str
        ``h`` or ``years``.

    Returns
    -------
    Survival or NotMeasurable
        Not measurable before five failures.
    """
    failures = sum(life.failed for life in lives)
    if failures < FEWEST_FAILURES:
        reason = (
            f"{failures} of {len(lives)} parts failed so far; "
            f"{FEWEST_FAILURES} failures are needed before a life can be told"
        )
        return NotMeasurable(reason, unit)
    from scipy import stats  # slow to load, rarely needed

    data: stats.CensoredData = stats.CensoredData(
        uncensored=[life.length for life in lives if life.failed],
        right=[life.length for life in lives if not life.failed],
    )
    curve = stats.ecdf(data).sf
    # At the last failure of all the log of zero arises; the interval there is open (nan),
    # which `Survival.at` says in words.
    with np.errstate(divide="ignore", invalid="ignore"), warnings.catch_warnings():
        warnings.filterwarnings("ignore", "The confidence interval is undefined")
        interval: Any = curve.confidence_interval(0.95, method="log-log")
    failed_at = sorted({life.length for life in lives if life.failed})
    places = np.searchsorted(curve.quantiles, failed_at)
    alive, low, high = (
        tuple(float(share) for share in np.asarray(part.probabilities)[places])
        for part in (curve, interval.low, interval.high)
    )
    return Survival(tuple(failed_at), alive, low, high, unit, len(lives), failures)


def _first(times: Sequence[float], shares: Sequence[float]) -> float | None:
    """Give the first age at which the share is one half or less."""
    return next((t for t, s in zip(times, shares, strict=True) if s <= 0.5), None)
