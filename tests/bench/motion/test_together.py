"""Clocks of one run: agreement by chi-square, one mean only when they agree."""

import json

import numpy as np
import pytest
from scipy import stats

from outshop.bench.motion.clocks import Kind, Timing, clocked, from_clip
from outshop.bench.motion.together import together
from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable
from outshop.railway.scales import scale


def clip(value, error):
    """A clock with a standard error in m/s."""
    return from_clip(Estimate.plus_minus(value, 1.959964 * error, "m/s"))


def test_two_clocks_by_the_textbook():
    """Weights 1/u^2 and chi-square as in Bevington and Robinson; scipy gives the chance."""
    found = together([clip(0.200, 0.002), clip(0.203, 0.002)])
    # shares are taken of the plain mean, 0.2015, hence not quite 0.2015 and 2.25 / 2
    assert found.speed.value == pytest.approx(0.2015, abs=5e-5)
    assert found.chi_square == pytest.approx(0.003**2 / (2 * 0.002**2), rel=0.01)
    assert found.chance == pytest.approx(stats.chi2.sf(found.chi_square, 1))
    assert found.speed.half_width == pytest.approx(1.96 * 0.002 / 2**0.5, rel=0.01)


def test_a_surer_clock_weighs_more():
    found = together([clip(0.200, 0.001), clip(0.203, 0.003)])
    assert found.speed.value == pytest.approx((0.200 * 9 + 0.203) / 10, abs=1e-4)


def test_clocks_that_disagree_are_given_alone_with_the_reason():
    found = together([clip(0.200, 0.001), clip(0.220, 0.001)])
    assert found.agree is False
    assert isinstance(found.speed, NotMeasurable)
    assert "do not agree" in found.speed.reason
    assert not found.pairs[0].agree
    assert found.pairs[0].difference.value == pytest.approx(100 * 0.02 / 0.21)
    assert [c.speed.value for c in found.clocks] == [0.200, 0.220]


def test_one_clock_is_its_own_answer():
    found = together([clip(0.2, 0.001)])
    assert found.agree is None
    assert found.speed == found.clocks[0].speed


def test_an_error_of_the_way_in_common_is_no_disagreement_and_does_not_average_out():
    """Two clocks over one way that is uncertain by 5 %: only their times tell them apart."""
    both = [
        clocked(Timing(kind, 1000, (5.0,), way_tolerance_mm=50))
        for kind in (Kind.GATES, Kind.GATES)
    ]
    found = together(both)
    assert found.pairs[0].difference.half_width < 0.3
    assert found.speed.half_width / found.speed.value == pytest.approx(0.05, rel=0.01)


def test_against_generalised_least_squares_by_hand():
    """The same covariance handed to numpy's solver gives mean and chi-square."""
    clocks = [
        clocked(Timing(Kind.STOP_WATCH, 1000, (5.02, 5.1, 4.9))),
        clocked(Timing(Kind.GATES, 1000, (4.99,))),
        clip(0.2, 0.002),
    ]
    found = together(clocks)
    values = np.array([c.speed.value for c in clocks])
    shares = np.diag([c.time_share**2 for c in clocks])
    shares[:2, :2] += clocks[0].way_share ** 2
    root = np.linalg.cholesky(shares * values.mean() ** 2)
    whitened, ones = np.linalg.solve(root, values), np.linalg.solve(root, np.ones(3))
    mean, rest, *_ = np.linalg.lstsq(ones[:, None], whitened, rcond=None)
    assert found.speed.value == pytest.approx(mean[0])
    assert found.chi_square == pytest.approx(rest[0])


def test_agreeing_clocks_are_told_to_agree_in_19_of_20_runs_and_their_mean_holds():
    rng, agreed, held, runs = np.random.default_rng(3), 0, 0, 1000
    for _ in range(runs):
        found = together([clip(0.2 + e * rng.standard_normal(), e) for e in (0.001, 0.002, 0.004)])
        agreed += found.agree
        held += found.agree and found.speed.low <= 0.2 <= found.speed.high
    assert 0.93 <= agreed / runs <= 0.97
    assert 0.93 <= held / agreed <= 0.985


def test_the_json_is_plain_and_has_full_size_speeds():
    found = together([clip(0.2, 0.001), clip(0.2, 0.001)], scale("H0"))
    shape = json.loads(json.dumps(found.as_json(), allow_nan=False))
    assert shape["scale_speed"]["unit"] == "km/h"
    assert shape["scale_speed"]["value"] == pytest.approx(0.2 * 87 * 3.6)
    assert shape["agree"] is True


def test_no_clock_and_a_crowd_of_them_are_refused():
    with pytest.raises(InputError, match="0 clocks"):
        together([])
    with pytest.raises(InputError, match="41 clocks"):
        together([clip(0.2, 0.001)] * 41)
