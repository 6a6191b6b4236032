"""Kaplan-Meier against two published worked examples and an independent library."""

import math

import numpy as np
import pytest

from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable
from outshop.workshop.survival import Life, survival

# 6-mercaptopurine arm of the leukaemia trial (Freireich et al. 1963), remission in weeks,
# "+" still in remission, and its Kaplan-Meier table as printed in textbooks
# (Kleinbaum and Klein, Survival Analysis, ch. 2; from memory).
REMISSION = "6 6 6 6+ 7 9+ 10 10+ 11+ 13 16 17+ 19+ 20+ 22 23 25+ 32+ 32+ 34+ 35+"
PRINTED = {6: 0.857, 7: 0.807, 10: 0.753, 13: 0.690, 16: 0.627, 22: 0.538, 23: 0.448}

# The worked example of Kaplan and Meier (1958), section 2 (from memory).
EIGHT = "0.8 1.0+ 2.7+ 3.1 5.4 7.0+ 9.2 12.1+"
EIGHT_PRINTED = {0.8: 0.875, 3.1: 0.700, 5.4: 0.525, 9.2: 0.2625}


def lives(text):
    return [Life(float(word.rstrip("+")), not word.endswith("+")) for word in text.split()]


def test_the_remission_table_is_met_to_its_last_digit():
    curve = survival(lives(REMISSION), "h")
    assert dict(zip(curve.times, np.round(curve.alive, 3), strict=True)) == PRINTED
    assert (curve.lives, curve.failures) == (21, 9)


def test_the_founding_example_is_met(monkeypatch):
    """It has only four failures, so the silence is lifted for this test."""
    monkeypatch.setattr("outshop.workshop.survival.FEWEST_FAILURES", 4)
    curve = survival(lives(EIGHT), "years")
    assert dict(zip(curve.times, curve.alive, strict=True)) == pytest.approx(EIGHT_PRINTED)


@pytest.mark.parametrize("seed", range(4))
def test_curve_interval_and_median_agree_with_an_independent_library(seed):
    from lifelines import KaplanMeierFitter
    from lifelines.utils import median_survival_times

    rng = np.random.default_rng(seed)
    length = np.round(rng.exponential(30, 60), 1) + 0.1
    failed = rng.random(60) < 0.7
    ours = survival([Life(t, bool(f)) for t, f in zip(length, failed, strict=True)], "h")
    theirs = KaplanMeierFitter().fit(length, failed)
    shares = theirs.survival_function_["KM_estimate"]
    bounds = theirs.confidence_interval_
    for i, time in enumerate(ours.times):
        assert ours.alive[i] == pytest.approx(shares[time])
        if ours.alive[i] > 0:
            assert [ours.low[i], ours.high[i]] == pytest.approx(list(bounds.loc[time]))
    median = ours.median
    assert median.value == theirs.median_survival_time_
    expected = sorted(median_survival_times(bounds).iloc[0])
    if math.isfinite(expected[1]):
        assert [median.low, median.high] == expected


def test_before_five_failures_there_is_silence():
    answer = survival([Life(10, True)] * 4 + [Life(50, False)] * 40, "h")
    assert isinstance(answer, NotMeasurable)
    assert "4 of 44 parts failed" in answer.reason


def test_the_share_alive_at_an_age():
    curve = survival(lives(REMISSION), "h")
    assert curve.at(3).value == 100
    ten = curve.at(11)
    assert isinstance(ten, Estimate)
    assert ten.value == pytest.approx(75.3, abs=0.05)
    assert ten.low < 75.3 < ten.high
    all_failed = survival([Life(t, True) for t in (1, 2, 3, 4, 5)], "h")
    assert isinstance(all_failed.at(9), NotMeasurable)


def test_the_medians_interval_covers_the_truth():
    """Exponential lives of median 20·ln 2, a third cut off: at least 90 of 100 at 95 %."""
    rng = np.random.default_rng(5)
    hits = shown = 0
    for _ in range(150):
        true, cut = rng.exponential(20, 40), rng.uniform(5, 90, 40)
        seen = [Life(min(a, b), bool(a <= b)) for a, b in zip(true, cut, strict=True)]
        median = survival(seen, "h").median
        if isinstance(median, Estimate):
            shown += 1
            hits += median.low <= 20 * math.log(2) <= median.high
    assert shown > 130
    assert hits / shown >= 0.90


@pytest.mark.parametrize("length", [-1, float("nan"), float("inf")])
def test_a_life_that_cannot_be_is_refused(length):
    with pytest.raises(InputError, match="0 or longer"):
        Life(length, True)
    curve = survival([Life(t, True) for t in range(1, 8)], "h")
    with pytest.raises(InputError, match="an age must be 0 or more"):
        curve.at(length)
