"""Armature networks: coil resistances from readings between neighbouring segments, and back.

Delta: coil k joins segments k and k+1, so the n coils form a ring. Star: coil k runs from
segment k to the common point. Plain functions on arrays; an open path is infinite.
"""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def ring_readings(coils: Array) -> Array:
    """Give what a meter shows across each coil of a closed ring: r_k beside the rest in series.

    Parameters
    ----------
    coils : array, shape (n,)
        Ohm, infinite for an open coil.

    Returns
    -------
    array, shape (n,)
        Reading k between segments k and k+1, ohm.
    """
    coils = np.asarray(coils, dtype=float)
    readings = np.empty(coils.size)
    for k, own in enumerate(coils):
        rest = float(np.sum(np.delete(coils, k)))
        if np.isinf(own) or np.isinf(rest):
            readings[k] = min(own, rest)
        else:
            readings[k] = own * rest / (own + rest) if own + rest > 0 else 0.0
    return readings


def star_readings(coils: Array) -> Array:
    """Give what a meter shows between neighbouring segments of a star: r_k + r_(k+1)."""
    coils = np.asarray(coils, dtype=float)
    return np.asarray(coils + np.roll(coils, -1))


def solve_ring(readings: Array) -> Array:
    """Find the coils of a ring from its readings.

    With S the sum of all coils and x = r/S, a reading is R = S x (1 - x). For given S this
    has one root x <= 1/2 and one above it, and at most one coil of a ring can be above; the
    condition that all x add to one then fixes S. If the largest reading equals the sum of
    the others, its coil is open; the readings must not exceed that (see the caller).

    Parameters
    ----------
    readings : array, shape (n,)
        Finite and not negative, ohm.

    Returns
    -------
    array, shape (n,)
        Coils, ohm; infinite where the largest reading is not below the sum of the others.
    """
    values = np.asarray(readings, dtype=float)
    top = int(np.argmax(values))
    largest, others = float(values[top]), np.delete(values, top)
    if largest == 0:
        return np.zeros_like(values)
    if largest >= others.sum():
        coils = values.copy()
        coils[top] = np.inf
        return coils
    most = 1 / (4 * largest)  # of u = 1 / S, so that no root is imaginary

    def small(u: float) -> Array:
        """Coils of the lower branch, x S, in a form free of cancellation."""
        return np.asarray(2 * values / (1 + np.sqrt(np.maximum(0, 1 - 4 * values * u))))

    if small(most).sum() * most >= 1:  # no coil holds more than half the ring
        u = _root(lambda u: small(u).sum() * u - 1, 0.0, most)
        return small(u)

    def excess(u: float) -> float:
        coils = small(u)
        return float(coils.sum() - 2 * coils[top])  # x of the largest is 1 minus its lower root

    u = _root(excess, 0.0, most)
    coils = small(u)
    if u > 0:
        coils[top] = 1 / u - coils[top]
    else:
        coils[top] = np.inf
    return coils


def solve_star(readings: Array) -> Array | None:
    """Find the coils of a star with an odd number of segments; None for an even number.

    With n even an alternating part of the coils leaves every reading as it is.
    Results may come out slightly negative from readings that are a little off.
    """
    values = np.asarray(readings, dtype=float)
    n = values.size
    if n % 2 == 0:
        return None
    signs = np.where(np.arange(n) % 2 == 0, 1.0, -1.0)
    return np.array([signs @ np.roll(values, -k) / 2 for k in range(n)])


def _root(function, low: float, high: float) -> float:  # type: ignore[no-untyped-def]
    from scipy.optimize import brentq  # slow to load

    if function(high) == 0:
        return high
    if function(low) * function(high) > 0:  # rounding at a border case
        return low
    return float(brentq(function, low, high, xtol=1e-300, rtol=1e-14))
