"""How straight the speed follows the setting."""

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtri

from outshop.bench.readings import student
from outshop.estimate import Estimate, NotMeasurable, Reading

LEAST_SETTINGS = 5  # a bow of three numbers and something left to judge it by; ours

Array = NDArray[np.float64]


def bow_and_unevenness(
    setting: Array, speed: Array, lowered: NDArray[np.bool_] | None = None
) -> tuple[Reading, Reading]:
    """Give the bow and the unevenness of speed over setting.

    Fit v = a + b s + c s^2 by least squares. The **bow** is how far the middle of that curve
    lies above the straight line between its ends, in percent of the curve's rise: with half the
    range h it is -c h^2 over 2 b h, b taken at the middle. Its interval is Student's, from the
    sandwich covariance of MacKinnon and White (1985, HC3), as slow runs scatter less than fast
    ones. The **unevenness** is the standard deviation about the curve in percent of the top
    speed, with the chi-square interval of a variance; its degrees of freedom are Satterthwaite's
    (1946) for runs that scatter as their speed does, the wider of the two likely cases.

    Parameters
    ----------
    setting, speed : array, shape (n,)
        Of the runs in which it moved; one unit each.
    lowered : array of bool, shape (n,), optional
        Runs taken while lowering; they may all lie above the others by one and the same speed.

    Returns
    -------
    bow, unevenness : Reading
        Percent; not measurable below five settings, or where the speed does not rise.
    """
    if len(np.unique(setting)) < LEAST_SETTINGS:
        reason = f"it takes {LEAST_SETTINGS} settings or more at which it runs"
        return NotMeasurable(reason, "percent"), NotMeasurable(reason, "percent")
    middle = (setting.max() + setting.min()) / 2
    half_range = (setting.max() - setting.min()) / 2
    x = (setting - middle) / half_range  # -1 to 1: then the rise is 2 b and the bow -c
    columns = [np.ones_like(x), x, x**2]
    if lowered is not None and 1 < lowered.sum() < len(x) - 1 and len(x) > LEAST_SETTINGS:
        columns.append(lowered - lowered.mean())
    design = np.column_stack(columns)
    inverse = np.linalg.inv(design.T @ design)
    found = inverse @ design.T @ speed
    b, c = found[1], found[2]
    rest = speed - design @ found
    leverage = np.einsum("ij,jk,ik->i", design, inverse, design)
    freedom = len(x) - design.shape[1]
    squares = (rest / np.maximum(1 - leverage, 1e-6)) ** 2
    covariance = inverse @ (design.T * squares) @ design @ inverse
    if b <= 0:
        reason = "the speed does not rise with the setting"
        return NotMeasurable(reason, "percent"), NotMeasurable(reason, "percent")
    gradient = np.zeros(len(found))
    gradient[1:3] = c / (2 * b**2), -1 / (2 * b)  # of -c / 2b
    error = float(np.sqrt(gradient @ covariance @ gradient))
    bow = Estimate.plus_minus(
        float(-100 * c / (2 * b)), 100 * student(freedom) * error, "percent",
        method=f"parabola through {len(x)} runs",
    )  # fmt: skip
    fewer = freedom * float(np.mean(speed**2) ** 2 / np.mean(speed**4))
    return bow, _unevenness(float(rest @ rest) / freedom, max(fewer, 1.0), float(speed.max()))


def _unevenness(variance: float, freedom: float, top: float) -> Reading:
    found = np.sqrt(variance)
    low, high = (found * np.sqrt(freedom / chdtri(freedom, tail)) for tail in (0.025, 0.975))
    low, value, high = (100 * float(v) / top for v in (low, found, high))
    return Estimate(low=low, value=value, high=high, unit="percent", method="scatter of the runs")
