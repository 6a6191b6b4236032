"""Which single further observation would narrow the years most.

A feature known for an edition has variants, each with its window. Seeing the feature tells the
variant; the expected information is the mutual information between variant and year, in bits
(Cover and Thomas, Elements of Information Theory, 2.3; from memory).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from outshop.dating.evidence import Evidence
from outshop.dating.posterior import Weights, inside


@dataclass(frozen=True, slots=True)
class Feature:
    """Something that can still be looked at.

    Parameters
    ----------
    name : str
        What to look at.
    variants : tuple of Evidence
        One for each way it may turn out, with its window and trust.
    """

    name: str
    variants: tuple[Evidence, ...]


@dataclass(frozen=True, slots=True)
class Look:
    """A feature worth looking at and what it would tell on average."""

    name: str
    information_bits: float
    outcomes: tuple[tuple[str, float], ...]


def rank_looks(features: Sequence[Feature], probability: Weights, years: range) -> list[Look]:
    """Rank features by the information that a look at them is expected to give.

    Parameters
    ----------
    features : sequence of Feature
        Each with at least two variants; one with fewer tells nothing and comes last.
    probability : array of float, shape (len(years),)
        What is known now.
    years : range

    Returns
    -------
    list of Look
        Most telling first; ``outcomes`` gives the chance of each variant.
    """
    looks = [_look(feature, probability, years) for feature in features]
    return sorted(looks, key=lambda look: (-look.information_bits, look.name))


def _look(feature: Feature, probability: Weights, years: range) -> Look:
    within = inside(feature.variants, years)
    trust = np.array([[v.trust] for v in feature.variants])
    weight = np.where(within, trust, 1 - trust)
    likelihood = weight / weight.sum(axis=0)  # shape (variants, years): P(variant | year)
    joint = likelihood * probability
    chance = joint.sum(axis=1)
    information = _entropy(chance) - float(
        sum(p * _entropy(column) for p, column in zip(probability, likelihood.T, strict=True))
    )
    outcomes = tuple((v.what, float(p)) for v, p in zip(feature.variants, chance, strict=True))
    return Look(feature.name, max(0.0, information), outcomes)


def _entropy(p: NDArray[np.float64]) -> float:
    positive = p[p > 0]
    return float(-(positive * np.log2(positive)).sum())
