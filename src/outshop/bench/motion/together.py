"""Several clocks on one run: whether they agree, and their common speed if they do."""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtrc

from outshop.bench.motion.clocks import ClockSpeed, Z, at_scale
from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable, Reading
from outshop.railway.scales import Scale

LEAST_CHANCE = 0.05  # clocks that differ by more than chance does in 1 of 20 runs do not agree
MOST_CLOCKS = 40  # of one run


@dataclass(frozen=True, slots=True)
class Pair:
    """How far a second clock lies from a first: ``difference`` in percent of their mean."""

    one: str
    other: str
    difference: Estimate

    @property
    def agree(self) -> bool:
        """Whether the interval of the difference holds 0."""
        return self.difference.low <= 0 <= self.difference.high

    def as_json(self) -> dict[str, Any]:
        """Give a plain shape."""
        return {
            "one": self.one,
            "other": self.other,
            "difference": self.difference.as_json(),
            "agree": self.agree,
        }


@dataclass(frozen=True, slots=True)
class Together:
    """All clocks of a run.

    Parameters
    ----------
    clocks : tuple of ClockSpeed
        As given.
    pairs : tuple of Pair
        Each two that could be measured.
    chi_square, chance : float or None
        How far they lie apart, and how often chance alone does that; None below two clocks.
    freedom : int
        Clocks less one.
    speed, scale_speed : Reading
        The common speed in m/s, weighted, only when they agree; at full size in km/h.
    """

    clocks: tuple[ClockSpeed, ...]
    pairs: tuple[Pair, ...]
    chi_square: float | None
    freedom: int
    chance: float | None
    speed: Reading
    scale: Scale | None = None

    @property
    def agree(self) -> bool | None:
        """Whether they agree; None below two clocks."""
        return None if self.chance is None else self.chance >= LEAST_CHANCE

    @property
    def scale_speed(self) -> Reading:
        """The common speed at full size, km/h."""
        return at_scale(self.speed, self.scale)

    def as_json(self) -> dict[str, Any]:
        """Give a plain shape."""
        return {
            "clocks": [
                {
                    "name": c.name,
                    "kind": c.kind.value,
                    "way_mm": c.way_mm,
                    "laps": c.laps,
                    "times_s": list(c.seconds),
                    "speed": c.speed.as_json(),
                    "scale_speed": c.scale_speed(self.scale).as_json(),
                }
                for c in self.clocks
            ],
            "pairs": [p.as_json() for p in self.pairs],
            "chi_square": self.chi_square,
            "freedom": self.freedom,
            "chance": self.chance,
            "agree": self.agree,
            "speed": self.speed.as_json(),
            "scale_speed": self.scale_speed.as_json(),
            "warnings": [f"{c.name}: {w}" for c in self.clocks for w in c.speed.warnings],
        }


def together(clocks: Sequence[ClockSpeed], scale: Scale | None = None) -> Together:
    """Hold clocks of one run against each other.

    Weighted by the inverse of their covariance, in which clocks over one way share the way's
    error (generalised least squares, Aitken 1936); the weighted sum of squares follows
    chi-square with n - 1 degrees of freedom when they agree.

    Raises
    ------
    InputError
        No clock, or too many.
    """
    if not 1 <= len(clocks) <= MOST_CLOCKS:
        message = f"{len(clocks)} clocks for one run: one to {MOST_CLOCKS} can be held together"
        raise InputError(message)
    told = [(c, c.speed) for c in clocks if isinstance(c.speed, Estimate) and c.speed.value > 0]
    if len(told) < 2:
        lone: Reading = told[0][1] if told else clocks[0].speed
        return Together(tuple(clocks), (), None, 0, None, lone, scale)
    values = np.array([speed.value for _, speed in told])
    covariance = _covariance([c for c, _ in told], values)
    inverse = np.linalg.inv(covariance)
    weight = inverse.sum()
    mean = float(inverse.sum(axis=0) @ values / weight)
    rest = values - mean
    chi_square = float(rest @ inverse @ rest)
    chance = float(chdtrc(len(told) - 1, chi_square))
    common: Reading
    if chance >= LEAST_CHANCE:
        half = float(Z / np.sqrt(weight))
        common = Estimate(
            mean, max(0.0, mean - half), mean + half, "m/s",
            method=f"weighted mean of {len(told)} clocks that agree",
        )  # fmt: skip
    else:
        common = NotMeasurable(
            f"the clocks do not agree (chi-square {chi_square:.1f} with {len(told) - 1} degrees of "
            f"freedom, chance {chance:.2g}): each stands alone",
            "m/s",
        )
    pairs = tuple(
        _pair(told[i][0].name, told[j][0].name, values[[i, j]], covariance[np.ix_([i, j], [i, j])])
        for i, j in itertools.combinations(range(len(told)), 2)
    )
    return Together(tuple(clocks), pairs, chi_square, len(told) - 1, chance, common, scale)


def _covariance(
    clocks: Sequence[ClockSpeed], values: NDArray[np.float64]
) -> NDArray[np.float64]:  # fmt: skip
    """Give the covariance, (m/s)^2; the same way or loop has the same error for all clocks."""
    shares = np.diag([max(c.time_share, 1e-9) ** 2 for c in clocks])
    for i, one in enumerate(clocks):
        for j, other in enumerate(clocks):
            if one.way_mm is not None and one.way_mm == other.way_mm:
                shares[i, j] += one.way_share * other.way_share
    # one speed for all: shares of each own value would favour the clocks that read low
    return np.asarray(shares * float(np.mean(values)) ** 2)


def _pair(
    one: str, other: str, values: NDArray[np.float64], covariance: NDArray[np.float64]
) -> Pair:
    mean = float(values.mean())
    variance = float(covariance[0, 0] + covariance[1, 1] - 2 * covariance[0, 1])
    difference = Estimate.plus_minus(
        100 * float(values[1] - values[0]) / mean,
        100 * Z * float(np.sqrt(max(variance, 0.0))) / mean,
        "percent",
        method="difference over mean",
    )
    return Pair(one, other, difference)
