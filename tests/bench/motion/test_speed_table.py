"""A speed table gives start, drop-out, creep, top, bow and hysteresis; NEM 661 judges the top."""

import json
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from outshop.bench.motion.speed_rows import SpeedPoint, SpeedRows
from outshop.bench.motion.speed_table import measure, rows_from_json
from outshop.bench.motion.straightness import bow_and_unevenness
from outshop.bench.motion.top_speed import judge_top
from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable
from outshop.railway.scales import scale

UP = [(1, 0), (2, 0), (3, 0.02), (4, 0.06), (6, 0.15), (8, 0.24), (10, 0.33), (12, 0.42)]
DOWN = [(12, 0.42), (10, 0.34), (8, 0.25), (6, 0.16), (4, 0.07), (2, 0.01), (1, 0)]


def table(up=(), down=(), direction="forward", unit="V"):
    points = [SpeedPoint(s, direction, "up", v) for s, v in up]
    points += [SpeedPoint(s, direction, "down", v) for s, v in down]
    return SpeedRows(unit, tuple(points))


def both():
    return SpeedRows("V", table(UP, DOWN).points + table(UP, DOWN, "reverse").points)


def figures(rows, **more):
    return measure(rows, **more).ways["forward"]


def test_start_and_drop_out_lie_between_two_settings():
    found = figures(table(UP, DOWN))
    assert (found.start.value, found.drop_out.value) == (2.5, 1.5)
    assert found.start.half_width == pytest.approx(0.475)  # 95 % of a uniform law over 1 V
    assert found.start_over_drop_out.value == 1.0


def test_the_difference_of_two_uniform_laws_against_scipy():
    """Halves of 0.5 each: the triangular law's 95 % reach 1 - sqrt(0.05)."""
    triangle = stats.triang(0.5, loc=-1, scale=2)
    found = figures(table(UP, DOWN)).start_over_drop_out
    assert found.half_width == pytest.approx(triangle.ppf(0.975), rel=1e-6)


def test_steps_are_whole():
    found = figures(table([(3, 0), (4, 0.02)], [(4, 0.02), (2, 0.01), (1, 0)], unit="step"))
    assert (found.start.low, found.start.value, found.start.high) == (4, 4, 4)
    assert (found.drop_out.low, found.drop_out.high) == (1, 1)


@pytest.mark.parametrize(
    ("up", "says"),
    [
        ([(3, 0.1), (4, 0.2)], "still ran at the lowest setting, 3 V"),
        ([(3, 0), (4, 0)], "did not move up to 4 V"),
        ([], "no runs while the setting was raised"),
    ],
)
def test_a_start_that_was_not_seen_says_why(up, says):
    found = figures(table(up, DOWN))
    assert isinstance(found.start, NotMeasurable)
    assert says in found.start.reason


def test_a_model_that_stands_again_is_told_of():
    found = figures(table([(2, 0), (3, 0.02), (4, 0), (5, 0.1)]))
    assert found.start.warnings == ("it stood again at 4 V: dirt, or a tight place",)
    assert found.start.low < 3
    assert found.start.high > 4


def test_creep_is_the_lowest_setting_that_runs_and_top_the_highest():
    found = figures(table(UP, DOWN))
    assert found.creep.value == pytest.approx(0.01)
    assert found.top.value == pytest.approx(0.42)


def test_the_slowest_of_many_noisy_readings_is_not_taken_for_the_creep():
    """Ten settings of one true speed: the least of them would read low by chance."""
    rng = np.random.default_rng(2)
    found = [
        figures(
            table([(s, 0.1 * (1 + 0.01 * e)) for s, e in enumerate(rng.standard_normal(10), 1)])
        )
        for _ in range(200)
    ]
    assert np.mean([f.creep.value for f in found]) == pytest.approx(0.1, rel=0.003)


def test_the_top_speed_is_taken_at_the_nominal_setting_only():
    assert figures(table(UP), nominal=10).top.value == pytest.approx(0.33)
    assert "nominal setting, 14" in figures(table(UP), nominal=14).top.reason


def test_one_point_gives_a_top_speed_and_reasons_for_the_rest():
    found = measure(table([(6, 0.15)])).readings()
    told = {key for key, reading in found.items() if isinstance(reading, Estimate)}
    assert told == {"creep_forward", "top_forward"}
    assert all(r.reason for r in found.values() if isinstance(r, NotMeasurable))


def test_a_model_that_never_moves_has_no_speeds():
    found = figures(table([(6, 0), (12, 0)]))
    assert "never ran" in found.creep.reason
    assert "stood at the highest setting" in found.top.reason


def test_lag_and_forward_over_reverse_against_scipys_paired_test():
    up = dict(UP)
    pairs = np.array([(v, up[s]) for s, v in DOWN if up.get(s) and v])
    expected = stats.ttest_rel(*pairs.T).confidence_interval(0.95)
    found = figures(table(UP, DOWN)).lag
    assert (found.low, found.high) == pytest.approx(
        (100 * expected.low / pairs.mean(), 100 * expected.high / pairs.mean())
    )


def test_forward_over_reverse_is_the_share_by_which_it_is_faster():
    slower = [(s, 0.9 * v) for s, v in UP]
    rows = SpeedRows("V", table(UP).points + table(slower, direction="reverse").points)
    found = measure(rows).forward_over_reverse
    assert found.value == pytest.approx(100 * 0.1 / 0.95)
    assert found.half_width < 1e-6  # the same share everywhere


def test_a_higher_setting_that_ran_slower_is_told_of():
    found = measure(table([(4, 0.1), (6, 0.05), (8, 0.2)]))
    assert any("slower at 6 V than at 4 V" in w for w in found.warnings)


def test_turning_the_engine_round_swaps_the_directions():
    forward, back = measure(table(UP, DOWN)), measure(table(UP, DOWN, "reverse"))
    assert forward.readings()["start_forward"] == back.readings()["start_reverse"]


@settings(max_examples=25)
@given(st.floats(0.5, 2))
def test_faster_runs_are_faster_by_as_much_and_no_other_figure_changes(factor):
    quick = [(s, v * factor) for s, v in UP]
    one, other = figures(table(UP)), figures(table(quick))
    assert other.top.value == pytest.approx(one.top.value * factor)
    assert other.start == one.start
    assert other.bow.value == pytest.approx(one.bow.value)


def test_a_table_goes_through_json_and_back_unchanged():
    found = measure(both(), scale=scale("H0"), full_size_km_h=120, nominal=12)
    shape = json.loads(json.dumps(found.as_json(), allow_nan=False))
    again = measure(rows_from_json(shape), scale=scale("H0"), full_size_km_h=120, nominal=12)
    assert again == found
    with pytest.raises(InputError, match="not a speed table"):
        rows_from_json({"unit": "V"})


@pytest.mark.parametrize(
    ("unit", "points", "says"),
    [
        ("V", (), "one run at least"),
        ("W", (SpeedPoint(6, "forward", "up", 0.1),), "V or step"),
        ("V", (SpeedPoint(6, "forward", "up", 0.1),) * 2001, "2000 are enough"),
    ],
)
def test_a_table_that_is_none_is_refused(unit, points, says):
    with pytest.raises(InputError, match=says):
        SpeedRows(unit, points)


@pytest.mark.parametrize("bad", [(math.nan, 0.1), (6, math.nan), (-1, 0.1), (6, -0.1), (6, 99)])
def test_a_point_that_is_none_is_refused(bad):
    with pytest.raises(InputError, match="cannot be"):
        SpeedPoint(bad[0], "forward", "up", bad[1])


# straightness


def test_a_straight_line_has_no_bow_and_a_parabola_its_own():
    s = np.linspace(2, 12, 9)
    x = (s - 7) / 5
    straight, even = bow_and_unevenness(s, 0.2 + 0.15 * x)
    assert (straight.value, even.value) == pytest.approx((0, 0), abs=1e-9)
    # at the middle 0.03 above a chord that rises by 0.3: 10 %
    bowed, _ = bow_and_unevenness(s, 0.2 + 0.15 * x + 0.03 * (1 - x**2))
    assert bowed.value == pytest.approx(10)


def test_a_lag_when_lowered_is_no_unevenness():
    s = np.tile(np.linspace(2, 12, 6), 2)
    lowered = np.repeat([False, True], 6)
    bow, uneven = bow_and_unevenness(s, 0.04 * s + 0.02 * lowered, lowered)
    assert uneven.value == pytest.approx(0, abs=1e-9)
    assert bow.value == pytest.approx(0, abs=1e-9)


def test_parabola_and_its_covariance_against_numpys_fit():
    """Where all runs scatter alike the sandwich tends to the classic covariance of polyfit."""
    rng = np.random.default_rng(6)
    s = np.linspace(2, 12, 4000)
    v = 0.03 * s + 0.0005 * s**2 + 0.004 * rng.standard_normal(len(s))
    x = (s - 7) / 5
    (c, b, _), cov = np.polyfit(x, v, 2, cov=True)
    gradient = np.array([-1 / (2 * b), c / (2 * b**2), 0])
    found, _ = bow_and_unevenness(s, v)
    assert found.value == pytest.approx(-100 * c / (2 * b))
    error = 100 * math.sqrt(gradient @ cov @ gradient)
    assert found.half_width == pytest.approx(1.96 * error, rel=0.05)


def test_19_of_20_bows_and_unevennesses_hold_the_truth():
    rng, held, runs = np.random.default_rng(8), np.zeros(2), 400
    s = np.linspace(2, 12, 11)
    x = (s - 7) / 5
    for _ in range(runs):
        v = 0.22 + 0.2 * x + 0.02 * (1 - x**2)
        bow, uneven = bow_and_unevenness(s, v * (1 + 0.02 * rng.standard_normal(11)))
        truth = 100 * 0.02 * math.sqrt(np.mean(v**2)) / v.max()
        held += (bow.low <= 5 <= bow.high, uneven.low <= truth <= uneven.high)
    assert (held / runs >= 0.92).all()
    assert (held / runs <= 0.985).all()


def test_too_few_settings_or_a_falling_speed_have_no_straightness():
    few, _ = bow_and_unevenness(np.array([2.0, 4, 6, 8]), np.array([0.1, 0.2, 0.3, 0.4]))
    assert "5 settings" in few.reason
    falling, _ = bow_and_unevenness(np.arange(1.0, 8), np.arange(8.0, 1, -1))
    assert "does not rise" in falling.reason


# NEM 661


@pytest.mark.parametrize(
    ("size", "full_km_h", "low_m_s", "high_m_s"),
    [
        # NEM 661 (2011): from the full-size top speed to 60, 50, 30 and 10 % above it;
        # NEM 010 gives the ratios. 140 km/h in H0: 140 / 3.6 / 87 = 0.447 m/s
        ("H0", 140, 0.447, 0.581),
        ("N", 100, 0.1736, 0.2604),
        ("Z", 100, 0.1263, 0.2020),
        ("0", 100, 0.617, 0.679),
    ],
)
def test_top_speed_against_the_band_of_nem_661(size, full_km_h, low_m_s, high_m_s):
    def verdict(m_s, half=0.0005):
        top = Estimate.plus_minus(m_s, half, "m/s")
        return judge_top([top], full_km_h, scale(size)).verdict

    assert verdict(low_m_s - 0.002) == "too_slow"
    assert verdict(low_m_s, 0.003) == "undecided"
    assert verdict(low_m_s + 0.002) == "within"
    assert verdict(high_m_s - 0.002) == "within"
    assert verdict(high_m_s + 0.002) == "too_fast"


def test_a_size_with_nothing_allowed_above_is_within_when_the_interval_holds_the_speed():
    top = 100 / 3.6 / 32  # size I, 1:32
    found = judge_top([Estimate.plus_minus(top, 0.01, "m/s")], 100, scale("I"))
    assert found.verdict == "within"
    assert "as near as can be told" in found.sentence


def test_the_worse_direction_decides():
    top = Estimate.plus_minus(0.5, 0.001, "m/s")
    found = judge_top([top, Estimate.plus_minus(0.7, 0.001, "m/s")], 140, scale("H0"))
    assert found.verdict == "too_fast"


def test_a_scale_without_a_band_and_a_speed_that_is_none_are_told():
    assert judge_top([], 100, scale("1:20")).band is None
    assert judge_top([NotMeasurable("x", "m/s")], 100, scale("H0")).verdict == "undecided"
    for speed in (0, -1, math.nan, 1000):
        with pytest.raises(InputError, match="full-size top speed"):
            judge_top([], speed, scale("H0"))
