"""The settling curve: against an independent fit, and its interval against simulated runs."""

import numpy as np
import pytest
from scipy.optimize import curve_fit

from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable
from outshop.workshop.settling import fit_settling, is_settled, minutes_left


def falling(t, final, drop, tau):
    return final + drop * np.exp(-t / tau)


def truth(drop_share, tau):
    """Minute at which the next ten minutes change it by 2 %, by its definition."""
    return max(0.0, tau * np.log(drop_share * (1 - np.exp(-10 / tau)) / 0.02))


@pytest.mark.parametrize(("final", "drop", "tau"), [(0.2, 0.1, 4), (60, 6, 8), (41, -18, 6)])
def test_the_curve_is_the_least_squares_curve(final, drop, tau):
    """Reference: scipy.optimize.curve_fit (Levenberg-Marquardt), started at the truth."""
    rng = np.random.default_rng(1)
    t = np.arange(25) + 0.5
    y = falling(t, final, drop, tau) + rng.normal(0, abs(drop) * 0.02, t.size)
    ours = fit_settling(t, y)
    theirs, _ = curve_fit(falling, t, y, p0=(final, drop, tau))
    rss = float(((y - falling(t, *theirs)) ** 2).sum())
    assert ((y - ours.curve(t)) ** 2).sum() <= rss * 1.001
    assert (ours.final, ours.drop, ours.time_constant_min) == pytest.approx(theirs, rel=0.03)


def test_without_noise_the_settled_minute_is_exact():
    t = np.arange(1, 31)
    fit = fit_settling(t, falling(t, 0.2, 0.1, 5.0))
    assert fit.settled_at.value == pytest.approx(truth(0.5, 5.0), rel=0.01)
    assert fit.settled_at.high - fit.settled_at.low < 1.5


@pytest.mark.parametrize(
    ("tau", "share", "noise", "count"),
    [(4, 0.5, 0.01, 10), (8, 0.3, 0.02, 20), (20, 0.6, 0.01, 30)],
)
def test_the_interval_of_minutes_left_covers_simulated_runs(tau, share, noise, count):
    """Aim: at least 90 % at 95 % nominal; 100 runs each, larger study in the benchmarks."""
    rng = np.random.default_rng(17)
    t = np.arange(count) + 0.5
    hits = shown = 0
    for _ in range(100):
        y = 0.2 * (1 + share * np.exp(-t / tau) + rng.normal(0, noise, count))
        fit = fit_settling(t, y)
        left = minutes_left(fit, count)
        if isinstance(left, Estimate):
            shown += 1
            at = fit.settled_at
            hits += left.low <= max(0, truth(share, tau) - count) <= left.high
            assert at.low <= at.value <= at.high
    assert shown >= 95
    assert hits / shown >= 0.90


def test_readings_that_stay_are_settled_and_readings_that_only_fall_are_not():
    rng = np.random.default_rng(2)
    t = np.arange(20)
    steady = fit_settling(t, 0.2 + rng.normal(0, 0.001, 20))
    assert is_settled(minutes_left(steady, 20))
    line = minutes_left(fit_settling(t, 0.5 - 0.01 * t), 20)
    assert isinstance(line, NotMeasurable)
    assert "do not bend enough" in line.reason
    assert not is_settled(line)


def test_order_unit_and_repeats_do_not_matter():
    t = np.arange(15) + 0.5
    y = falling(t, 0.2, 0.1, 4) + np.random.default_rng(3).normal(0, 0.002, 15)
    first = fit_settling(t, y).settled_at
    mixed = np.random.default_rng(4).permutation(15)
    assert fit_settling(t[mixed], 1000 * y[mixed]).settled_at.value == pytest.approx(first.value)


def test_readings_that_move_together_widen_the_interval():
    t = np.arange(40) + 0.5
    rng = np.random.default_rng(6)
    slow = np.convolve(rng.normal(0, 0.004, 60), np.ones(8) / 8, "valid")[:40] * 8**0.5
    fit = fit_settling(t, falling(t, 0.2, 0.1, 6) + slow)
    assert any("widened" in w for w in fit.warnings)


def test_few_or_single_minute_readings_give_a_reason():
    assert "5 readings are too few" in fit_settling(range(5), [1] * 5).reason
    assert "same minute" in fit_settling([3] * 8, range(8)).reason
    assert isinstance(minutes_left(fit_settling([], []), 0), NotMeasurable)


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (lambda: fit_settling([1, 2], [1]), "2 minutes and 1 readings"),
        (lambda: fit_settling([1, float("nan")], [1, 2]), "not a number"),
        (lambda: fit_settling([-1, 2], [1, 2]), "before the start"),
        (lambda: fit_settling([1], [1], tolerance=2), "between 0 and 1"),
        (lambda: minutes_left(NotMeasurable("x", "min"), -1), "0 or more"),
        (lambda: minutes_left(NotMeasurable("x", "min"), float("inf")), "0 or more"),
    ],
)
def test_bad_input_is_a_sentence(make, sentence):
    with pytest.raises(InputError, match=sentence):
        make()


@pytest.mark.parametrize("value", [0.0, 1e-9, 1e9, -5.0])
def test_exact_and_extreme_readings_do_not_break_it(value):
    fit = fit_settling(range(10), [value] * 10)
    assert is_settled(minutes_left(fit, 10))
