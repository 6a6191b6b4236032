"""Robust bands and drift: coverage by simulation, and outliers that must not matter."""

from datetime import date, timedelta

import numpy as np
import pytest

from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable
from outshop.workshop.acceptance import band, best_ever, drift, place


@pytest.mark.parametrize("count", [5, 8, 15, 40])
def test_the_next_reading_falls_inside_as_often_as_promised(count):
    rng = np.random.default_rng(count)
    hits = 0
    for _ in range(800):
        known = band(rng.normal(60, 2, count), "dB(A)")
        hits += known.low <= rng.normal(60, 2) <= known.high
    assert 0.92 <= hits / 800 <= 0.995


def test_one_wild_reading_hardly_moves_the_band():
    calm = list(np.random.default_rng(1).normal(0.2, 0.01, 12))
    first, wild = band(calm, "A"), band([*calm, 9.0], "A")
    assert wild.centre == pytest.approx(first.centre, abs=0.01)
    assert wild.high < 0.4


def test_only_a_whole_interval_outside_counts():
    known = band([10, 10.5, 9.5, 10.2, 9.8, 10.1], "dB")
    far = Estimate.plus_minus(known.high + 3, 1, "dB")
    near = Estimate.plus_minus(known.high + 0.5, 1, "dB")
    assert place(far, known, "lower") == "worse"
    assert place(far, known, "higher") == "better"
    assert place(near, known, "lower") == "inside"
    low = Estimate.plus_minus(known.low - 3, 1, "dB")
    assert (place(low, known, "lower"), place(low, known, "higher")) == ("better", "worse")


def test_few_readings_give_no_band():
    few = band([1, 2, 3, 4], "A")
    assert isinstance(few, NotMeasurable)
    assert place(Estimate.exact(3, "A"), few, "lower") == "no band"
    assert place(NotMeasurable("x", "A"), band([1, 2, 3, 4, 5], "A"), "lower") == "no band"


def test_the_best_is_judged_by_the_cautious_end():
    sure, vague = Estimate.plus_minus(5.0, 0.1, "s"), Estimate.plus_minus(4.9, 3, "s")
    assert best_ever([vague, sure], "lower") is sure
    assert best_ever([vague, sure], "higher") is sure
    assert best_ever([], "lower") is None


def years(count, step=200):
    return [date(2015, 1, 1) + timedelta(days=step * i) for i in range(count)]


def test_a_drift_is_alarmed_by_its_sign_and_not_by_one_outlier():
    rng = np.random.default_rng(8)
    rising = np.arange(10) * 0.5 + rng.normal(0, 0.2, 10)
    found = drift(years(10), rising, "dB", "lower")
    assert found.alarm
    assert not drift(years(10), rising, "dB", "higher").alarm
    flat = rng.normal(0, 0.2, 10)
    flat[-1] = 50
    assert not drift(years(10), flat, "dB", "lower").alarm


def test_the_slopes_interval_covers_the_truth():
    """99 % nominal; the true slope is 0.5 in 200 days."""
    rng = np.random.default_rng(0)
    hits = 0
    for _ in range(300):
        rising = np.arange(10) * 0.5 + rng.normal(0, 0.2, 10)
        slope = drift(years(10), rising, "dB", "lower").per_year
        hits += slope.low < 0.5 * 365.25 / 200 < slope.high
    assert hits >= 291


def test_false_alarms_are_rare():
    """At 99 % both ways at most about 1 in 200 one-sided; 3 in 200 is far outside chance."""
    rng = np.random.default_rng(12)
    alarms = sum(drift(years(10), rng.normal(0, 1, 10), "dB", "lower").alarm for _ in range(400))
    assert alarms <= 8


def test_bad_input_is_a_sentence_or_a_reason():
    assert isinstance(drift(years(5), [1, 2, 3, 4, 5], "dB", "lower"), NotMeasurable)
    assert isinstance(drift([date(2020, 1, 1)] * 9, range(9), "dB", "lower"), NotMeasurable)
    with pytest.raises(InputError, match="3 days and 2 readings"):
        drift(years(3), [1, 2], "dB", "lower")
    with pytest.raises(InputError, match="not a number"):
        drift(years(6), [float("nan")] * 6, "dB", "lower")
    with pytest.raises(InputError, match="not a number"):
        band([1, 2, 3, 4, float("inf")], "A")
    with pytest.raises(InputError, match="the reading is in V, the band in A"):
        place(Estimate.exact(3, "V"), band([1, 2, 3, 4, 5], "A"), "lower")
