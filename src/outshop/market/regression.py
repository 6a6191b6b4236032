"""Linear regression with or without shrinkage, and intervals for a new case.

Shrinkage is a normal prior on each coefficient (ridge regression towards the prior mean); with
none it is ordinary least squares. Outliers can be weighed down by Huber's rule.
Source of the formulas: Hastie, Tibshirani, Friedman, The Elements of Statistical Learning, 3.2 and
3.4.1; Huber, Robust Statistics, 7.8 (both from memory).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import stdtrit

from outshop.errors import InputError
from outshop.estimate import Estimate

Array = NDArray[np.float64]
HUBER_K = 1.345  # 95 % efficiency for normal errors, Huber (from memory)
ROUNDS = 50  # reweighting settles long before


@dataclass(frozen=True, slots=True)
class Prior:
    """What is believed before the data: mean and standard deviation of each coefficient.

    Parameters
    ----------
    mean, deviation : array of float, shape (k,)
        A deviation of infinity means that nothing is believed.
    noise : float
        Standard deviation of one observation, believed as strongly as ``noise_cases`` cases.
    noise_cases : float
    """

    mean: Array
    deviation: Array
    noise: float = 1.0
    noise_cases: float = 0.0


@dataclass(frozen=True, slots=True)
class Fit:
    """A fitted line.

    Parameters
    ----------
    names : tuple of str
        One for each column.
    coefficients : array of float, shape (k,)
    covariance : array of float, shape (k, k)
        Of the coefficients.
    noise : float
        Standard deviation of one observation.
    freedom : float
        Degrees of freedom of the noise.
    adjusted_r2 : float
        Share of variance explained, corrected for the number of columns; NaN without shrinkage-free
        degrees of freedom.
    cases : int
    """

    names: tuple[str, ...]
    coefficients: Array
    covariance: Array
    noise: float
    freedom: float
    adjusted_r2: float
    cases: int

    def predict(self, row: Array, unit: str = "", confidence: float = 0.8) -> Estimate:
        """Give the interval in which one further observation falls with this confidence."""
        value = float(row @ self.coefficients)
        spread = float(np.sqrt(self.noise**2 + row @ self.covariance @ row))
        reach = float(stdtrit(self.freedom, 0.5 + confidence / 2)) * spread
        return Estimate.plus_minus(value, reach, unit, confidence=confidence, method="regression")

    def coefficient(self, name: str, confidence: float = 0.95) -> Estimate:
        """Give one coefficient with its interval."""
        i = self.names.index(name)
        reach = float(stdtrit(self.freedom, 0.5 + confidence / 2) * self.covariance[i, i] ** 0.5)
        return Estimate.plus_minus(float(self.coefficients[i]), reach, "", confidence=confidence)


def regress(
    columns: Array,
    response: Array,
    names: tuple[str, ...],
    prior: Prior | None = None,
    *,
    robust: bool = False,
) -> Fit:
    """Fit ``response = columns @ coefficients``.

    Parameters
    ----------
    columns : array of float, shape (n, k)
        Include a column of ones for the intercept.
    response : array of float, shape (n,)
    names : tuple of str, length k
    prior : Prior, optional
        None switches shrinkage off: ordinary least squares.
    robust : bool
        Weigh outliers down by Huber's rule.

    Raises
    ------
    InputError
        Fewer cases than columns, or columns that repeat each other, and no prior to help.
    """
    n, k = columns.shape
    if prior is None and (n <= k or np.linalg.matrix_rank(columns) < k):
        message = f"{n} cases cannot tell {k} effects apart: add cases or leave out effects"
        raise InputError(message)
    weight = np.ones(n)
    for _ in range(ROUNDS if robust and n else 1):
        fitted = _weighted(columns, response, weight, prior)
        if not robust:
            break
        residual = np.abs(response - columns @ fitted[0]) / fitted[2]
        fresh = np.minimum(1.0, HUBER_K / np.maximum(residual, 1e-12))
        if np.allclose(fresh, weight, atol=1e-6):
            break
        weight = fresh
    coefficients, covariance, noise, freedom = fitted
    return Fit(
        names,
        coefficients,
        covariance,
        noise,
        freedom,
        _adjusted_r2(columns, response, coefficients),
        n,
    )


def _weighted(
    columns: Array, response: Array, weight: Array, prior: Prior | None
) -> tuple[Array, Array, float, float]:
    n, k = columns.shape
    if prior is None:
        gram = columns.T @ (columns * weight[:, None])
        coefficients = np.asarray(
            np.linalg.solve(gram, columns.T @ (weight * response)), np.float64
        )
        freedom = float(n - k)
        noise2 = float((weight * (response - columns @ coefficients) ** 2).sum()) / freedom
        return coefficients, noise2 * _inverse(gram), noise2**0.5, freedom
    noise2 = float(prior.noise**2)
    belief = np.where(np.isfinite(prior.deviation), 1 / prior.deviation**2, 0.0)
    for _ in range(ROUNDS):  # the noise and the pull of the prior depend on each other
        gram = columns.T @ (columns * weight[:, None]) / noise2 + np.diag(belief)
        target = columns.T @ (weight * response) / noise2 + belief * prior.mean
        coefficients = np.asarray(np.linalg.solve(gram, target), np.float64)
        squares = float((weight * (response - columns @ coefficients) ** 2).sum())
        used = (
            float(np.trace(np.linalg.solve(gram, columns.T @ (columns * weight[:, None])))) / noise2
        )
        freedom = max(prior.noise_cases + n - used, 1.0)
        fresh = float((prior.noise_cases * prior.noise**2 + squares) / freedom)
        if abs(fresh - noise2) < 1e-10 * noise2:
            break
        noise2 = fresh
    return coefficients, _inverse(gram), noise2**0.5, freedom


def _inverse(gram: Array) -> Array:
    return np.asarray(np.linalg.inv(gram), dtype=np.float64)


def _adjusted_r2(columns: Array, response: Array, coefficients: Array) -> float:
    n, k = columns.shape
    total = float(((response - response.mean()) ** 2).sum()) if n else 0.0
    if n <= k or total == 0:
        return float("nan")
    left = float(((response - columns @ coefficients) ** 2).sum())
    return float(1 - (left / (n - k)) / (total / (n - 1)))
