"""Fit motor models to points: permanent magnet V = I R + k w, field coil with saturation.

Errors lie in voltage, current and speed alike; each residual is weighted by its effective
variance (Orear, Am. J. Phys. 50 (1982) 912). With three or more points to spare the scatter of
the residuals sets the intervals (Student), with fewer the assumed meter error does. The
meters' own common tolerance is added in quadrature.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from outshop.bench.electrics.motor_points import Points
from outshop.bench.readings import student
from outshop.errors import InputError

Array = NDArray[np.float64]

READING_ERROR = 0.01  # standard error of one reading, relative: a hand meter's last digits
ENOUGH_TO_SPARE = 3
MOST_BACK_EMF = 1.05  # of the voltage; reading errors can lift a light point a little above one
USELESS = 0.5  # relative half-width above which a constant is not worth printing
SATURATION_CEILING = 1e3  # 1/A, keeps the fit inside numbers


@dataclass(frozen=True, slots=True)
class Fit:
    """Constants and their joint uncertainty.

    Parameters
    ----------
    names : tuple of str
        ``resistance`` (ohm), then ``constant`` (V s/rad), or ``slope`` (V s/rad per A) and
        ``saturation`` (1/A) for field coils.
    values : array, shape (p,)
        Best values.
    covariance : array, shape (p, p)
        Of the values, scaled so that ``quantile`` times its root is a 95 % half-width.
    quantile : float
        Student's or the normal law's.
    reading_error : float
        Relative standard error of one reading, as assumed or as the scatter shows.
    method : str
        For the estimate.
    """

    names: tuple[str, ...]
    values: Array
    covariance: Array
    quantile: float
    reading_error: float
    method: str

    def constant_at(self, current_a: float) -> float:
        """Flux constant at a current, V s/rad; the same at all for a permanent magnet."""
        if "constant" in self.names:
            return float(self.values[1])
        slope, saturation = self.values[1:]
        return float(slope * current_a / (1 + saturation * current_a))

    def half_width(self, function: Callable[[Array], float], extra: float = 0.0) -> float:
        """95 % half-width of a function of the values, first order; ``extra`` is a variance."""
        centre = function(self.values)
        slopes = np.empty(self.values.size)
        for k, value in enumerate(self.values):
            nudge = 1e-6 * abs(value) or 1e-9
            moved = self.values.copy()
            moved[k] += nudge
            slopes[k] = (function(moved) - centre) / nudge
        return self.quantile * math.sqrt(max(0.0, float(slopes @ self.covariance @ slopes)) + extra)


def fit_permanent_magnet(given: Points) -> Fit:
    """Fit V = I R + k w by weighted least squares.

    Raises
    ------
    InputError
        Fewer than two points, points that do not tell R from k, or constants below zero.
    """
    design = np.column_stack((given.current_a, given.omega))
    if len(given.voltage_v) < 2 or np.linalg.matrix_rank(design, tol=1e-9 * design.max()) < 2:
        message = "the points do not tell resistance from speed constant: hold the shaft once"
        raise InputError(message)
    values: Array = np.linalg.lstsq(design, given.voltage_v, rcond=None)[0].astype(np.float64)
    for _ in range(10):  # effective variances settle within a few rounds
        error = _effective(given, *np.abs(values))
        weighted = np.linalg.lstsq(design / error[:, None], given.voltage_v / error, rcond=None)
        values = weighted[0].astype(np.float64)
    error = _effective(given, *np.abs(values))
    scaled = design / error[:, None]
    inverse: Array = np.linalg.inv(scaled.T @ scaled).astype(np.float64)
    rest = (given.voltage_v - design @ values) / error
    fit = _scaled(("resistance", "constant"), values, inverse, rest, "V = I R + k w")
    _refuse_negative(fit)
    _refuse_gain(given, fit.constant_at(0))
    return fit


def fit_field_coil(given: Points) -> Fit:
    """Fit V = I R + k w with k = a I / (1 + b I): the flux saturates as current grows.

    Raises
    ------
    InputError
        Fewer than three points, or constants below zero.
    """
    if len(given.voltage_v) < 3:
        message = "a field-coil motor needs three points or more, best with the shaft held once"
        raise InputError(message)
    amps, omega, volts = given.current_a, given.omega, given.voltage_v

    def model(p: Array) -> Array:
        return np.asarray(amps * p[0] + p[1] * amps / (1 + p[2] * amps) * omega)

    stalled = given.stalled
    start_r = float(np.median(volts[stalled] / amps[stalled])) if stalled.any() else 0.0
    start_r = start_r or 0.3 * float(np.min(volts / amps))
    running = ~stalled
    if not running.any():
        message = "all points are stalled: let the motor run at two loads"
        raise InputError(message)
    from scipy.optimize import least_squares  # slow to load

    start_a = float(np.median((volts - amps * start_r)[running] / (amps * omega)[running]))
    values = np.array([start_r, max(start_a, 1e-9), 0.1 / float(amps.mean())])
    scale = np.abs(values)
    for _ in range(5):
        flux = values[1] * amps / (1 + values[2] * amps)
        error = READING_ERROR * np.sqrt(
            volts**2 + (amps * values[0]) ** 2 + 2 * (flux * omega) ** 2
        )
        found = least_squares(
            _residuals(model, scale, volts, error),
            values / scale,
            bounds=([0, 0, 0], [np.inf, np.inf, SATURATION_CEILING / scale[2]]),
        )
        values = found.x * scale
    jacobian = found.jac / scale
    inverse = np.linalg.pinv(jacobian.T @ jacobian, rcond=1e-14)
    fit = _scaled(
        ("resistance", "slope", "saturation"), values, inverse, found.fun, "V = I R + a I/(1+bI) w"
    )
    _refuse_negative(fit)
    return fit


def _residuals(
    model: Callable[[Array], Array], scale: Array, volts: Array, error: Array
) -> Callable[[Array], Array]:
    return lambda p: (model(p * scale) - volts) / error


def _effective(given: Points, resistance: float, constant: float) -> Array:
    """Give each residual's standard error, V: errors of volts, amps and speed together."""
    parts = (given.voltage_v, resistance * given.current_a, constant * given.omega)
    return np.asarray(READING_ERROR * np.sqrt(sum(p**2 for p in parts)))


def _scaled(names: tuple[str, ...], values: Array, inverse: Array, rest: Array, model: str) -> Fit:
    spare = rest.size - values.size
    square = float(rest @ rest) / spare if spare > 0 else 1.0
    if spare >= ENOUGH_TO_SPARE:
        method, quantile = f"{model}, scatter of the points", student(spare)
    else:
        square = max(1.0, square)
        method, quantile = f"{model}, {READING_ERROR:.0%} assumed for each reading", 1.96
    return Fit(names, values, inverse * square, quantile, READING_ERROR * math.sqrt(square), method)


def _refuse_gain(given: Points, constant: float) -> None:
    """Refuse a point whose back-EMF tops its voltage: k w I out of V I would be a gain."""
    share = constant * given.omega / given.voltage_v
    worst = int(np.argmax(share))
    if share[worst] > MOST_BACK_EMF:
        message = (
            f"point {worst + 1} would give more power than it takes: {given.rev_per_s[worst]:g} "
            f"turns a second on {given.voltage_v[worst]:g} V do not belong to the other points; "
            "check the row"
        )
        raise InputError(message)


def _refuse_negative(fit: Fit) -> None:
    for name, value in zip(fit.names[:2], fit.values[:2], strict=True):
        if not value > 0:
            message = (
                f"the points give a {name} of {value:.3g}, which no motor has "
                "(more power out than in): check volts, amps and speed row by row"
            )
            raise InputError(message)
