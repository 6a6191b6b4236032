"""Expected information of a look, against brute force by simulation of definitions."""

import math

import numpy as np
import pytest

from outshop.dating.evidence import Evidence
from outshop.dating.next_look import Feature, rank_looks
from outshop.railway.edtf_years import read_years

YEARS = range(1950, 1970)
FLAT = np.full(20, 1 / 20)


def variant(name, window, trust=0.9):
    return Evidence(name, read_years(window), trust)


def brute_force_bits(feature, prior):
    """Prior entropy less mean posterior entropy, by plain loops."""

    def entropy(p):
        return -sum(x * math.log2(x) for x in p if x > 0)

    likelihood = []
    for year in YEARS:
        w = [v.trust if year in v.window else 1 - v.trust for v in feature.variants]
        likelihood.append([x / sum(w) for x in w])
    total = 0.0
    for k in range(len(feature.variants)):
        joint = [prior[i] * likelihood[i][k] for i in range(len(prior))]
        chance = sum(joint)
        total += chance * entropy([j / chance for j in joint])
    return entropy(prior) - total


def test_information_equals_brute_force(rng):
    for _ in range(30):
        prior = rng.dirichlet(np.ones(20))
        cut = rng.integers(1952, 1968)
        feature = Feature(
            "wheels",
            (variant("old", f"1950/{cut}", 0.8), variant("new", f"{cut + 1}/1969", 0.95)),
        )
        (look,) = rank_looks([feature], prior, YEARS)
        assert look.information_bits == pytest.approx(brute_force_bits(feature, prior))


def test_a_feature_that_halves_the_years_beats_one_that_splits_off_a_year():
    halves = Feature("box", (variant("a", "1950/1959"), variant("b", "1960/1969")))
    sliver = Feature("screw", (variant("a", "1950"), variant("b", "1951/1969")))
    useless = Feature("scale", (variant("a", "1950/1969"), variant("b", "1950/1969")))
    looks = rank_looks([sliver, useless, halves], FLAT, YEARS)
    assert [look.name for look in looks] == ["box", "screw", "scale"]
    assert looks[-1].information_bits == pytest.approx(0, abs=1e-12)


def test_near_certain_halves_tell_one_bit():
    halves = Feature(
        "box", (variant("a", "1950/1959", 1 - 1e-9), variant("b", "1960/1969", 1 - 1e-9))
    )
    assert rank_looks([halves], FLAT, YEARS)[0].information_bits == pytest.approx(1, abs=1e-6)
