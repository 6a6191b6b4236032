"""Has it run in? A settling curve fitted to current, speed, level or temperature by minute.

Model: y(t) = a + b·exp(−t/τ). Settled is when the next ten minutes would change it by no more
than a share δ of the final value: |b|·exp(−t/τ)·(1 − exp(−10/τ)) ≤ δ·|a|. Intervals are
profile-likelihood intervals with the F distribution (Bates and Watts, Nonlinear Regression
Analysis, 1988, ch. 6), widened for serial correlation of the residuals.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import fdtri

from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable, Reading

FEWEST = 6  # readings: three parameters and three left over to judge the scatter; our choice
TOLERANCE = 0.02  # share of the final value; under 2 % in ten minutes is common practice
AHEAD_MIN = 10.0  # the ten minutes of that rule
LONGEST_MINUTES = 240.0  # no run-in is planned further ahead; our choice
FINEST = 1e-4  # no meter here reads finer than one part in ten thousand; our choice
TAU_STEPS = 80  # time constants and minutes tried on logarithmic grids, first wide, then close
TIME_STEPS = 160

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Settling:
    """A fitted settling curve.

    Parameters
    ----------
    final : float
        Settled value, in the readings' unit.
    drop : float
        Excursion at time 0; positive when the readings fall to the final value.
    time_constant_min : float
        Time constant in minutes.
    scatter : float
        Residual standard deviation, in the readings' unit.
    settled_at : Reading
        Minute at which it is settled, with its interval; 0 when it was from the start.
    readings : int
        How many readings were used.
    warnings : tuple of str
        What a careful reader should know.
    """

    final: float
    drop: float
    time_constant_min: float
    scatter: float
    settled_at: Reading
    readings: int
    warnings: tuple[str, ...] = ()

    def curve(self, minutes: npt.ArrayLike) -> Floats:
        """Give the fitted values at these minutes [shape=(n,)]."""
        t = np.asarray(minutes, dtype=float)
        return np.asarray(self.final + self.drop * np.exp(-t / self.time_constant_min))


def fit_settling(
    minutes: Sequence[float],
    values: Sequence[float],
    *,
    tolerance: float = TOLERANCE,
    confidence: float = 0.95,
) -> Settling | NotMeasurable:
    """Fit the settling curve of one direction.

    Parameters
    ----------
    minutes : array [shape=(n,)]
        Running minutes of this direction; repeats are allowed, order does not matter.
    values : array [shape=(n,)]
        One reading each, all in one unit.
    tolerance : float
        Share of the final value by which the next ten minutes may still change it.
    confidence : float
        Of the intervals.

    Returns
    -------
    Settling or NotMeasurable
        Not measurable with fewer than six readings or when all stand at one minute.

    Raises
    ------
    InputError
        Lengths differ, a number is not finite, a minute is negative, or the tolerance is
        not between 0 and 1.
    """
    t, y = _checked(minutes, values, tolerance)
    if t.size < FEWEST:
        reason = f"{t.size} readings are too few; take at least {FEWEST}, one a minute"
        return NotMeasurable(reason, "min")
    span = float(np.ptp(t))
    if span <= 0:
        return NotMeasurable("all readings stand at the same minute", "min")
    if float(np.ptp(y)) == 0:
        always = Estimate(0.0, 0.0, 0.0, "min", confidence, "all readings alike")
        return Settling(float(y[0]), 0.0, span, 0.0, always, int(t.size))
    free = max(t.size - 3, 1)
    taus = np.geomspace(span / 30, span * 10, TAU_STEPS)
    rss = _free_fits(t, y, taus)[0]
    straight = int(np.argmin(rss)) == taus.size - 1
    taus = _closer(taus, rss <= rss.min() * (1 + float(fdtri(1, free, 0.9999)) / free))
    rss, final, drop = _free_fits(t, y, taus)
    best = int(np.argmin(rss))
    residual = y - final[best] - drop[best] * np.exp(-t / taus[best])
    order = np.argsort(t, kind="stable")
    inflation = _inflation(residual[order])
    scatter = math.sqrt(float(rss[best]) / free * inflation)
    warnings = []
    if inflation > 1:
        warnings.append("neighbouring readings move together; the intervals are widened for it")
    limit = float(fdtri(1, free, confidence)) * inflation / free
    settled = _settled_at(t, y, taus, float(rss[best]), limit, tolerance, confidence)
    if straight and isinstance(settled, Estimate) and settled.low > 0:
        settled = _too_straight(settled.low)
    return Settling(
        float(final[best]),
        float(drop[best]),
        float(taus[best]),
        scatter,
        settled,
        int(t.size),
        tuple(warnings),
    )


def minutes_left(fit: Settling | NotMeasurable, now_min: float) -> Reading:
    """Give the minutes still to run in this direction, with their interval; 0 is settled.

    Raises
    ------
    InputError
        ``now_min`` is negative or not finite.
    """
    if not (math.isfinite(now_min) and now_min >= 0):
        message = f"minutes run must be 0 or more; got {now_min}"
        raise InputError(message)
    if isinstance(fit, NotMeasurable):
        return fit
    at = fit.settled_at
    if isinstance(at, NotMeasurable):
        return at
    value, low, high = (max(x - now_min, 0.0) for x in (at.value, at.low, at.high))
    return Estimate(value, low, high, "min", at.confidence, at.method, fit.warnings)


def is_settled(left: Reading) -> bool:
    """Tell whether even the cautious end of the interval leaves nothing to run."""
    return isinstance(left, Estimate) and left.high == 0.0


def _checked(
    minutes: Sequence[float], values: Sequence[float], tolerance: float
) -> tuple[Floats, Floats]:
    t, y = np.asarray(minutes, dtype=float), np.asarray(values, dtype=float)
    if t.ndim != 1 or t.shape != y.shape:
        message = f"each minute needs one reading; got {t.size} minutes and {y.size} readings"
        raise InputError(message)
    if not (np.isfinite(t).all() and np.isfinite(y).all()):
        message = "a minute or a reading is not a number; leave that line out"
        raise InputError(message)
    if t.size and t.min() < 0:
        message = f"a minute lies before the start: {t.min():g}"
        raise InputError(message)
    if not 0 < tolerance < 1:
        message = f"the tolerance is a share between 0 and 1; got {tolerance}"
        raise InputError(message)
    return t, y


def _free_fits(t: Floats, y: Floats, taus: Floats) -> tuple[Floats, Floats, Floats]:
    """Fit a and b by least squares for each time constant [shape=(m,)]: RSS, a, b."""
    shape = np.exp(-t[None, :] / taus[:, None])
    mean = shape.mean(axis=1, keepdims=True)
    centred = shape - mean
    drop = (centred @ (y - y.mean())) / np.maximum((centred**2).sum(axis=1), 1e-300)
    final = y.mean() - drop * mean[:, 0]
    rss = ((y[None, :] - final[:, None] - drop[:, None] * shape) ** 2).sum(axis=1)
    return rss, final, drop


def _settled_at(
    t: Floats,
    y: Floats,
    taus: Floats,
    least: float,
    limit: float,
    tolerance: float,
    confidence: float,
) -> Reading:
    """Profile the minute of settling.

    Once that minute s, the time constant and the side are given, the model is
    a·(1 ± δ·exp((s − t)/τ)): linear in a alone, so each profile point is one division.
    """
    horizon = max(LONGEST_MINUTES, 3 * float(t.max()))
    times = np.concatenate(([0.0], np.geomspace(0.1, horizon, TIME_STEPS)))
    profile = _profile(t, y, taus, times, tolerance)
    least = min(least, float(profile.min()))
    unit = limit * max(least, FINEST**2 * float((y**2).sum()), 1e-300)
    # A wide pass finds the neighbourhood, a close one the ends.
    near = _closer(times[1:], profile[1:] <= float(profile[1:].min()) + 4 * unit)
    times = np.union1d(times, near)
    profile = _profile(t, y, taus, times, tolerance)
    where = np.flatnonzero(profile <= float(profile.min()) + unit)
    low = float(times[max(where[0] - 1, 0)])
    method = "settling curve, profile likelihood"
    if where[-1] == times.size - 1:
        return _too_straight(low)
    high = float(times[where[-1] + 1]) if where[-1] > 0 else 0.0
    value = float(times[int(np.argmin(profile))])
    return Estimate(min(value, high), low, high, "min", confidence, method)


def _too_straight(low: float) -> NotMeasurable:
    reason = "the readings do not bend enough yet to say when it settles; run on"
    if low > 0:
        reason += f", at least to minute {min(low, LONGEST_MINUTES):.0f}"
    return NotMeasurable(reason, "min")


def _closer(grid: Floats, inside: npt.NDArray[np.bool_]) -> Floats:
    """Give as many steps again between the neighbours of what is inside."""
    where = np.flatnonzero(inside)
    if not where.size:
        return grid
    first, last = max(where[0] - 1, 0), min(where[-1] + 1, grid.size - 1)
    return np.geomspace(grid[first], grid[last], grid.size)


def _profile(t: Floats, y: Floats, taus: Floats, times: Floats, tolerance: float) -> Floats:
    """Least RSS over a, τ and the side for each minute of settling [shape=(k,)]."""
    best = np.full(times.size, np.inf)
    total = float((y**2).sum())
    for tau in taus:
        share = tolerance / -math.expm1(-AHEAD_MIN / tau)
        # A common factor of the shape cancels in the fit: take out the largest exponent.
        power = (times[:, None] - t[None, :]) / tau
        largest = np.maximum(power.max(axis=1, keepdims=True), 0.0)
        one, excursion = np.exp(-largest), share * np.exp(power - largest)
        for shape in (one + excursion, one - excursion):
            fit = total - (shape @ y) ** 2 / (shape**2).sum(axis=1)
            best = np.minimum(best, fit)
    # Minute 0 stands for everything settled from the start: any smaller excursion.
    best[0] = min(float(best[0]), _inside(t, y, taus, tolerance))
    return np.asarray(np.maximum(best, 0.0))


def _inside(t: Floats, y: Floats, taus: Floats, tolerance: float) -> float:
    """Give the least RSS of curves that the ten-minute rule calls settled from the start."""
    least = float(((y - y.mean()) ** 2).sum())
    rss, final, drop = _free_fits(t, y, taus)
    allowed = np.abs(drop) * -np.expm1(-AHEAD_MIN / taus) <= tolerance * np.abs(final)
    return min(least, float(rss[allowed].min())) if allowed.any() else least


def _inflation(residual: Floats) -> float:
    """Give the variance inflation for serial correlation, at least 1.

    The first-order factor (1 + ρ)/(1 − ρ) of a sample mean (common in time-series
    textbooks); ρ counts only when it exceeds what independent scatter shows by chance.
    """
    power = float((residual**2).sum())
    if power <= 0:
        return 1.0
    rho = float((residual[1:] * residual[:-1]).sum()) / power
    rho = min(rho, 0.9)
    chance = 1.645 / math.sqrt(residual.size)  # one-sided 5 % of a normal law
    return (1 + rho) / (1 - rho) if rho > chance else 1.0
