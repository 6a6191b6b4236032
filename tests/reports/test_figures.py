"""Readings are written with no more digits than their interval bears."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from outshop.estimate import Estimate, NotMeasurable
from outshop.reports.figures import written

TABLE = [
    ((61.32, 60.92, 61.72, "dB(A)"), "61.3 ±0.4 dB(A)"),
    ((0.5213, 0.3813, 0.6613, "s"), "0.52 ±0.14 s"),
    ((1234.0, 1184.0, 1284.0, "1/s"), "1230 ±50 1/s"),
    ((-4.1, -4.6, -3.6, "percent"), "−4.1 ±0.5 %"),
    ((10.0, 9.5, 14.0, "mm"), "10 (10 to 14) mm"),
    ((0.0, -0.2, 0.2, "A"), "0.0 ±0.2 A"),
    ((9.97, 9.0, 10.94, "V"), "10.0 ±1.0 V"),
    ((12.0, 12.0, 12.0, "mm"), "12 mm"),
]


@pytest.mark.parametrize(("numbers", "line"), TABLE)
def test_a_reading_is_written_to_the_place_its_interval_bears(numbers, line):
    """One digit of half-width, two when it starts with 1: within JCGM 100:2008, 7.2.6."""
    assert written(Estimate(*numbers)).line == line


def test_a_change_carries_its_sign():
    assert written(Estimate.plus_minus(4.1, 0.5, "s"), signed=True).value == "+4.1"
    assert written(Estimate.plus_minus(0.0, 0.5, "s"), signed=True).value == "0.0"


def test_no_number_gives_the_reason_and_no_spread():
    w = written(NotMeasurable("too quiet", "dB"))
    assert (w.value, w.spread, w.reason) == ("–", "", "too quiet")


@given(st.floats(-1e6, 1e6), st.floats(1e-3, 1e5))
def test_what_is_printed_differs_from_the_value_by_less_than_the_interval(value, half):
    w = written(Estimate(value, value - half, value + half, "s"))
    printed = float(w.value.replace("−", "-"))
    assert abs(printed - value) <= 0.51 * half


def test_a_level_is_never_written_finer_than_a_tenth_of_a_decibel():
    steady = Estimate.plus_minus(-14.1361, 0.0017, "dB(A)")
    assert written(steady).line == "−14.1 ±0.1 dB(A)"
    assert written(Estimate.plus_minus(57.23, 0.31, "dB(A)")).line == "57.2 ±0.3 dB(A)"
    assert written(Estimate.plus_minus(12.3456, 0.0017, "1/s")).line == "12.3456 ±0.0017 1/s"
