"""Checked against NEM 640 (1988): 16 V rms, pulse of 24 V for 0.1 to 3 s."""

import pytest

from outshop.bench.electrics.reversing import judge
from outshop.errors import InputError


@pytest.mark.parametrize(
    ("readings", "ids"),
    [
        ({"pull_in_v": 20, "release_v": 9, "delay_s": 0.05, "supply_pulse_v": 24}, ["good"]),
        ({"pull_in_v": None}, ["stuck"]),
        ({"pull_in_v": 15.5}, ["early"]),
        ({"pull_in_v": 25}, ["late"]),
        ({"pull_in_v": 20, "supply_pulse_v": 19}, ["supply-low", "late"]),
        ({"pull_in_v": 20, "delay_s": 4}, ["slow"]),
        ({"pull_in_v": 20, "delay_s": 0.5}, ["slow"]),
        ({"pull_in_v": 20, "release_v": 0.5}, ["holds"]),
    ],
)
def test_each_fault_is_named(readings, ids):
    assert [f.id for f in judge(**readings).findings] == ids


def test_margins_are_the_plain_differences():
    bench = judge(pull_in_v=20, supply_pulse_v=23.5)
    assert (bench.margin_low_v, bench.margin_high_v) == pytest.approx((4.0, 3.5))


@pytest.mark.parametrize(
    "readings",
    [
        {"pull_in_v": -3},
        {"pull_in_v": 230},
        {"pull_in_v": 20, "release_v": 21},
        {"pull_in_v": 20, "delay_s": -1},
    ],
)
def test_readings_that_cannot_be_are_refused(readings):
    with pytest.raises(InputError):
        judge(**readings)
