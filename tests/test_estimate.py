"""Estimates keep their interval through arithmetic, and say why where there is no number."""

import json
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from outshop.errors import InputError, NotationError
from outshop.estimate import Estimate, NotMeasurable, reading_from_json

numbers = st.floats(-1e6, 1e6)
widths = st.floats(0, 1e3)


@st.composite
def estimates(draw: st.DrawFn, unit: str = "mm") -> Estimate:
    value, down, up = draw(numbers), draw(widths), draw(widths)
    return Estimate(value, value - down, value + up, unit, draw(st.sampled_from([0.5, 0.9, 0.95])))


@given(estimates())
def test_json_round_trip(estimate):
    assert reading_from_json(json.loads(json.dumps(estimate.as_json()))) == estimate


def test_not_measurable_round_trip_keeps_the_reason():
    none = NotMeasurable("the recording is silent", "1/s")
    assert none.as_json() == {"value": None, "reason": "the recording is silent", "unit": "1/s"}
    assert reading_from_json(none.as_json()) == none


@given(estimates(), estimates())
def test_sum_does_not_depend_on_order(a, b):
    b = b.at_confidence(a.confidence)
    assert (a + b).value == (b + a).value
    assert math.isclose((a + b).low, (b + a).low, abs_tol=1e-6)


@given(estimates(), st.floats(-50, 50).filter(lambda x: abs(x) > 1e-3))
def test_scaling_by_a_number_scales_the_width(a, factor):
    assert math.isclose(
        (a * factor).half_width, a.half_width * abs(factor), rel_tol=1e-6, abs_tol=1e-6
    )


@given(estimates(), st.sampled_from([0.5, 0.8, 0.99]))
def test_a_change_of_confidence_can_be_undone(a, confidence):
    back = a.at_confidence(confidence).at_confidence(a.confidence)
    assert math.isclose(back.low, a.low, rel_tol=1e-9, abs_tol=1e-6)
    assert math.isclose(back.high, a.high, rel_tol=1e-9, abs_tol=1e-6)


def test_widths_add_in_quadrature():
    total = Estimate.plus_minus(10, 3, "g") + Estimate.plus_minus(20, 4, "g")
    assert (total.value, total.low, total.high) == (30, 25, 35)


def test_a_difference_swaps_the_sides():
    a = Estimate(10, 9, 14, "g") - Estimate(3, 2, 3, "g")
    assert (a.value, a.low) == (7, 6)
    assert a.high == pytest.approx(7 + math.hypot(4, 1))


def test_different_units_do_not_add():
    with pytest.raises(NotationError, match="cannot add mm to g"):
        Estimate.exact(1, "g") + Estimate.exact(1, "mm")


def test_product_and_quotient_hold_the_truth_as_often_as_they_say():
    """Independent check by simulation with numpy alone."""
    rng = np.random.default_rng(5)
    hits = 0
    for _ in range(2000):
        u, i = rng.normal(12, 0.3), rng.normal(0.5, 0.02)
        volts = Estimate.plus_minus(u, 1.96 * 0.3, "V")
        amps = Estimate.plus_minus(i, 1.96 * 0.02, "A")
        ohms = volts.over(amps, "ohm")
        assert isinstance(ohms, Estimate)
        hits += ohms.low <= 24 <= ohms.high
    assert 0.935 < hits / 2000 < 0.965


def test_dividing_by_what_may_be_zero_is_not_measurable():
    result = Estimate.exact(1, "V").over(Estimate(0.1, -0.1, 0.3, "A"), "ohm")
    assert isinstance(result, NotMeasurable)


@pytest.mark.parametrize(
    ("numbers_given", "sentence"),
    [
        ((math.nan, 0, 1), "finite"),
        ((2, 0, 1), "does not hold 2"),
    ],
)
def test_nonsense_is_refused_at_the_door(numbers_given, sentence):
    with pytest.raises(InputError, match=sentence):
        Estimate(*numbers_given, "s")


def test_confidence_of_one_is_refused():
    with pytest.raises(InputError, match="between 0 and 1; got 1"):
        Estimate(1, 0, 2, "s", confidence=1)


def test_a_shape_without_its_interval_is_refused():
    with pytest.raises(InputError, match="not an estimate"):
        reading_from_json({"value": 3, "unit": "s"})


def test_numpy_numbers_become_plain_ones():
    """Databases and JSON know plain floats only."""
    import numpy as np

    estimate = Estimate(np.float64(2), np.float32(1), np.int64(3), "A")
    assert [type(x) for x in (estimate.value, estimate.low, estimate.high)] == [float] * 3
