"""Wheel sets against NEM 310 (2009, 1977) and NMRA S-4.2; limits named at each case."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from outshop.bench.gauges.wheels import measure
from outshop.errors import InputError


@pytest.mark.parametrize(
    ("standard", "gauge", "measure_name", "values", "verdict", "by"),
    [
        ("NEM310", 16.5, "back_to_back", [14.2, 14.3, 14.2], "out", 0.2),  # 14.4 to 14.6
        ("NEM310", 16.5, "back_to_back", [14.4, 14.5, 14.6], "in", 0.0),
        ("NEM310", 16.5, "back_to_back", [14.5, 14.75], "out", 0.15),
        ("NEM310:1977", 16.5, "back_to_back", [14.3, 14.4], "in", 0.0),  # 14.3 to 14.5
        ("NEM310", 9, "back_to_back", [7.3], "out", 0.1),  # 7.4 to 7.6
        ("NEM310", 9, "flange_height", [1.2], "out", 0.3),  # 0.5 to 0.9
        ("NEM310", 6.5, "tyre_width", [1.4], "out", 0.15),  # 1.55 to 1.6
        ("S-4.2", 16.5, "back_to_back", [14.3], "out", 0.0764),  # .566 in at least
        ("S-4.2", 16.5, "back_to_back", [14.7], "in", 0.0),  # no upper end
        ("S-4.2", 9, "flange_height", [0.8], "out", 0.2412),  # .022 in at most
        ("NEM310", 45, "back_to_back", [39.5], "out", 0.3),  # 1977: 39.8 at least
    ],
)
def test_a_wheel_set_is_in_or_out_by_the_plain_difference(
    standard, gauge, measure_name, values, verdict, by
):
    bench = measure(standard, gauge, {measure_name: values})
    (check,) = bench.checks
    assert (check.verdict, bench.verdict) == (verdict, verdict)
    assert check.by_mm == pytest.approx(by, abs=1e-6)
    assert bool(check.what_to_do) == (verdict == "out")


def test_one_measure_out_puts_the_set_out():
    bench = measure("NEM310", 16.5, {"back_to_back": [14.5], "tyre_width": [2.2]})
    assert bench.verdict == "out"
    assert [c.verdict for c in bench.checks] == ["in", "out"]


def test_three_angles_that_differ_mean_a_bent_axle():
    bench = measure("NEM310", 16.5, {"back_to_back": [14.4, 14.6, 14.5]})
    assert bench.wobble.value == pytest.approx(0.2)
    assert any("bent" in a for a in bench.advice)
    true = measure("NEM310", 16.5, {"back_to_back": [14.5, 14.52, 14.5]})
    assert not true.advice


def test_run_out_above_half_a_tenth_is_named_in_h0():
    assert measure("NEM310", 16.5, {}, run_out_mm=0.16).advice
    assert not measure("NEM310", 16.5, {}, run_out_mm=0.03).advice


def test_readings_at_the_limit_are_called_doubtful():
    bench = measure("NEM310", 16.5, {"back_to_back": [14.41]})
    assert any("caliper" in w for w in bench.warnings)


def test_what_a_standard_does_not_limit_is_said():
    bench = measure("S-4.2", 16.5, {"flange_thickness": [0.8], "back_to_back": [14.5]})
    assert any("no limit" in w for w in bench.warnings)


@pytest.mark.parametrize(
    ("standard", "gauge", "readings", "says"),
    [
        ("NEM310", 15.0, {"back_to_back": [13.0]}, "15 mm"),
        ("NEM310", 16.5, {"back_to_back": [-14.2]}, "above 0"),
        ("NEM310", 16.5, {"back_to_back": [142]}, "does not belong"),
        ("NEM310", 16.5, {"flange_height": [14.2]}, "does not belong"),
        ("NEM310", 16.5, {"width": [3.0]}, "no measure"),
        ("NEM310", 16.5, {}, "at least one"),
        ("NEM310", 0, {"back_to_back": [14.2]}, "gauge"),
        ("X", 16.5, {"back_to_back": [14.2]}, "no wheel standard"),
    ],
)
def test_bad_wheel_readings_are_refused(standard, gauge, readings, says):
    with pytest.raises(InputError, match=says):
        measure(standard, gauge, readings)


@given(st.lists(st.floats(12, 17), min_size=1, max_size=5))
def test_verdict_follows_the_worst_reading_and_json_is_plain(values):
    bench = measure("NEM310", 16.5, {"back_to_back": values})
    inside = all(14.4 <= v <= 14.6 for v in values)
    assert (bench.verdict == "in") == inside or min(
        abs(v - e) for v in values for e in (14.4, 14.6)
    ) < 1e-8
    json.dumps(bench.as_json(), allow_nan=False)
