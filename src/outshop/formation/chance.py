"""Chance of getting round, from what is and is not known of rolling, pull and curves.

The force at a place is rolling + grade + constant x curve. Rolling does not depend on the place,
so for one curve constant the worst place is the same whatever the rolling; what is left is a
sum of independent errors, taken as normal. Two things shared by all places or vehicles are
integrated over by equal-chance midpoints: the curve constant, and one common factor for all
vehicles that nobody measured (their errors go together: the same works, the same oil).
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr, ndtri

from outshop.formation import walk as walking
from outshop.formation.scene import DEFAULT_ROLLING_FACTOR, Range, Scene, Vehicle

MIDPOINTS = 41  # of each shared quantity
WIDTH_95 = 1.959963984540054  # half width of 95 % in standard deviations of a normal law


@dataclass(frozen=True, slots=True)
class Chance:
    """Probability of getting round, and the interval of the force needed (95 %)."""

    probability: float
    needed_low_g: float
    needed_high_g: float


def chance(scene: Scene, train: tuple[Vehicle, ...]) -> Chance:
    """Give the chance that the train gets round the line.

    Parameters
    ----------
    scene : Scene
        Line with its curve constant (``curve_spread`` is the half width of its 95 % interval)
        and locomotive with the interval of its pull.
    train : tuple of Vehicle
        From the engine backwards.
    """
    engine = scene.locomotive
    pull = Range(
        engine.pull_g,
        engine.pull_g if engine.low_g is None else engine.low_g,
        engine.pull_g if engine.high_g is None else engine.high_g,
    )
    places = walking.walk(walking.prepare(scene.line, 1.0), engine, train)
    shares = (np.arange(MIDPOINTS) + 0.5) / MIDPOINTS
    normal = ndtri(shares)
    constants = np.maximum(0.0, scene.curve_constant + scene.curve_spread / WIDTH_95 * normal)
    if scene.curve_spread == 0:
        constants = constants[:1]
    track = np.array([(places.grade_g + c * places.curve_g).max() for c in constants])
    measured = [v for v in train if v.rolling is not None]
    guessed = sum(v.mass_g * v.rolling_permille / 1000 for v in train if v.rolling is None)
    factor = np.exp(np.log(DEFAULT_ROLLING_FACTOR) / WIDTH_95 * normal) if guessed else np.ones(1)
    mean = sum(v.mass_g * v.rolling_permille / 1000 for v in measured)
    spread = sum((v.mass_g / 1000 * _sigma(v.rolling)) ** 2 for v in measured if v.rolling)
    need = (mean + track[:, None] + guessed * factor[None, :]).ravel()
    together = np.sqrt(spread + _sigma(pull) ** 2)
    margin = pull.value - need
    # a train that needs just the pull gets round, as in the verdict
    sure = ndtr(margin / together) if together > 0 else (margin >= -1e-9).astype(float)
    low, high = _interval(need, float(np.sqrt(spread)))
    return Chance(float(np.mean(sure)), low, high)


def _sigma(known: Range) -> float:
    return (known.high - known.low) / (2 * WIDTH_95)


def _interval(need: np.ndarray, sigma: float) -> tuple[float, float]:
    """Middle 95 % of a mixture of normal laws of one width."""
    if sigma == 0:
        low, high = np.quantile(need, [0.025, 0.975])
        return float(low), float(high)
    grid = np.linspace(need.min() - 5 * sigma, need.max() + 5 * sigma, 2001)
    share = ndtr((grid[:, None] - need[None, :]) / sigma).mean(axis=1)
    return float(np.interp(0.025, share, grid)), float(np.interp(0.975, share, grid))
