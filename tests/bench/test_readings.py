"""Hand-typed readings: numbers, units, lists, repeats."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from outshop.bench.readings import last_digit, number_list, quantity, repeated
from outshop.errors import InputError


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("4.2", "ohm", 4.2),
        ("4,2", "ohm", 4.2),
        ("350 mA", "A", 0.35),
        ("350mA", "A", 0.35),
        ("1.2k", "ohm", 1200),
        ("2 MΩ", "ohm", 2e6),
        (" 12 V ", "V", 12),
        (".5", "mm", 0.5),
        ("14.2 mm", "mm", 14.2),
        ("OL", "ohm", math.inf),
    ],
)
def test_typed_values_are_read(text, unit, value):
    assert quantity(text, unit)[0] == pytest.approx(value)


@pytest.mark.parametrize(
    ("text", "unit"), [("", "A"), ("x", "A"), ("1 V", "A"), ("1.2.3", "A"), ("1e999", "A")]
)
def test_what_is_no_reading_is_refused(text, unit):
    with pytest.raises(InputError):
        quantity(text, unit)


@given(st.floats(-1e6, 1e6).map(lambda x: round(x, 6)))
def test_point_and_comma_mean_the_same(value):
    text = f"{value:.6f}"
    assert quantity(text, "A") == quantity(text.replace(".", ","), "A") == (value, "")


@pytest.mark.parametrize(
    ("text", "step"), [("4.2", 0.1), ("4", 1), ("350 mA", 1e-3), ("4,25", 0.01), ("OL", 0)]
)
def test_the_last_digit_is_the_meters_step(text, step):
    assert last_digit(text, "A" if "A" in text else "ohm") == pytest.approx(step)


@pytest.mark.parametrize(
    ("text", "values"),
    [
        ("14.2,14.3,14.2", [14.2, 14.3, 14.2]),
        ("14,2; 14,3; 14,2", [14.2, 14.3, 14.2]),
        ("14,2,14,3,14,2", [14.2, 14.3, 14.2]),
        ("14.2 14.3", [14.2, 14.3]),
        ("14,2 14,3", [14.2, 14.3]),
        ("14.2, 14.3", [14.2, 14.3]),
        ("14.2/14.3", [14.2, 14.3]),
        ("14,2", [14.2]),
        ("14,14,15", [14, 14, 15]),
        ("14", [14]),
        ("14.2,14.3 mm", [14.2, 14.3]),
    ],
)
def test_lists_in_many_hands(text, values):
    assert number_list(text, "mm") == pytest.approx(values)


@pytest.mark.parametrize("text", ["", ",", "a,b", "14.2,OL"])
def test_lists_that_are_none_are_refused(text):
    with pytest.raises(InputError):
        number_list(text, "mm")


def test_repeats_hold_the_truth_about_as_often_as_they_say():
    rng = np.random.default_rng(0)
    hits = 0
    for _ in range(300):
        found = repeated(5 + rng.standard_normal(4), "g", resolution=0.01)
        hits += found.low <= 5 <= found.high
    assert 272 <= hits <= 297  # 285 expected, three standard deviations
