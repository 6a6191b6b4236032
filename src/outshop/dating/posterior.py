"""Years weighed by evidence: flat prior, independent evidence, exact enumeration.

Evidence of trust t multiplies the weight of a year by t inside its window and by 1 - t outside.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from outshop.dating.evidence import Evidence

MASS = 0.95  # share of probability that the named years hold; the house's usual confidence
SLACK = 1e-12  # rounding of a sum of a few thousand doubles

Weights = NDArray[np.float64]


def inside(evidence: Sequence[Evidence], years: range) -> NDArray[np.bool_]:
    """Tell which years lie in which window.

    Returns
    -------
    array of bool, shape (len(evidence), len(years))
    """
    table = np.zeros((len(evidence), len(years)), dtype=bool)
    for row, item in zip(table, evidence, strict=True):
        for first, last in item.window.spans:
            begin = 0 if first is None else max(0, first - years.start)
            end = len(years) if last is None else last - years.start + 1
            if end > 0:
                row[begin:end] = True
    return table


def posterior(evidence: Sequence[Evidence], years: range) -> Weights:
    """Give the probability of each year.

    Parameters
    ----------
    evidence : sequence of Evidence
        May be empty: then all years are alike.
    years : range
        Years considered.

    Returns
    -------
    array of float, shape (len(years),)
        Adds to 1.
    """
    trust = np.array([item.trust for item in evidence])
    within = inside(evidence, years)
    log_weight = within.T @ np.log(trust) + (~within).T @ np.log1p(-trust)
    weight = np.exp(log_weight - log_weight.max())
    return np.asarray(weight / weight.sum(), dtype=np.float64)


def smallest_years(probability: Weights, years: range, mass: float = MASS) -> list[list[int]]:
    """Give the fewest years that hold ``mass``, joined to spans ``[from, to]``.

    Among equally likely years those next to the chosen ones come first, so that spans stay whole.
    """
    chosen = np.zeros(len(years), dtype=bool)
    held = 0.0
    for level in _levels(probability):
        gap = mass - SLACK - held
        if gap <= 0:
            break
        needed = int(np.ceil(gap / probability[level[0]] - SLACK))
        picked = level if needed >= len(level) else _beside(level, chosen, needed)
        chosen[picked] = True
        held += float(probability[picked].sum())
    return _spans(chosen, years.start)


def _levels(probability: Weights) -> list[NDArray[np.int_]]:
    """Group the indices of equally likely years, likeliest first."""
    order = np.argsort(-probability, kind="stable")
    sorted_p = probability[order]
    breaks = np.flatnonzero(sorted_p[:-1] - sorted_p[1:] > SLACK * sorted_p[:-1]) + 1
    return np.split(order, breaks)


def _beside(level: NDArray[np.int_], chosen: NDArray[np.bool_], count: int) -> list[int]:
    """Pick ``count`` of ``level``, growing outward from what is chosen."""
    grown = chosen.copy()
    rest = sorted(int(i) for i in level)
    picked: list[int] = []
    while len(picked) < count:
        touching = [i for i in rest if grown[max(0, i - 1) : i + 2].any()]
        index = touching[0] if touching else rest[0]
        rest.remove(index)
        grown[index] = True
        picked.append(index)
    return picked


def _spans(chosen: NDArray[np.bool_], start: int) -> list[list[int]]:
    edges = np.flatnonzero(np.diff(np.concatenate(([0], chosen.astype(np.int8), [0]))))
    return [
        [int(a) + start, int(b) - 1 + start] for a, b in zip(edges[::2], edges[1::2], strict=True)
    ]
