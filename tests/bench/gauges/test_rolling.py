"""Rolling resistance against plain mechanics and a simulation in time."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from outshop.bench.gauges import rolling
from outshop.errors import InputError
from outshop.estimate import Estimate


def test_one_in_36_is_28_permille():
    """A handbook's test slope: 1 in 36 is 2.8 %."""
    assert rolling.from_slope([10, 10, 10], 360).value == pytest.approx(27.8, abs=0.1)
    assert rolling.from_tilt([math.degrees(math.atan(1 / 36))] * 3).value == pytest.approx(
        27.8, 1e-2
    )


@given(st.floats(5, 60), st.floats(20, 80), st.floats(300, 900))
def test_ramp_gives_back_the_coefficient_of_a_rolling_simulation(permille, height, ramp):
    """Energy bookkeeping in small steps down the ramp and along the level."""
    c, g = permille / 1000, 9.80665
    slope = math.asin(height / ramp)
    squared = 2 * g * (math.sin(slope) - c * math.cos(slope)) * ramp / 1000
    if squared <= 0:
        return  # it does not roll down
    distance = squared / (2 * g * c) * 1000
    found = rolling.from_ramp([distance] * 3, height, ramp)
    assert found.value == pytest.approx(permille, rel=1e-6)


def test_coasting_gives_back_the_coefficient():
    """v2 = 2 c g s: 0.2 m/s and 102 mm are 20 permille."""
    speed = Estimate.plus_minus(0.2, 0.004, "m/s")
    found = rolling.from_coast(speed, Estimate.plus_minus(101.97, 2, "mm"))
    assert found.value == pytest.approx(20, rel=1e-3)
    assert found.low < 20 < found.high
    read = rolling.from_coasting([0.2, 0.2, 0.2], [102, 101, 103])
    assert read.value == pytest.approx(20, rel=0.01)


def test_interval_holds_the_truth_about_as_often_as_it_says():
    rng = np.random.default_rng(2)
    hits = 0
    for _ in range(200):
        angles = 1.2 + 0.15 * rng.standard_normal(5)
        found = rolling.from_tilt(angles, resolution_deg=0.05)
        hits += found.low <= 1000 * math.tan(math.radians(1.2)) <= found.high
    assert 180 <= hits <= 199


def test_before_and_after_are_judged_by_the_interval():
    before = Estimate.plus_minus(40, 4, "permille")
    assert rolling.compare(before, Estimate.plus_minus(22, 3, "permille")).verdict == "better"
    same = rolling.compare(before, Estimate.plus_minus(38, 4, "permille"))
    assert same.verdict == "no_provable_change"
    assert rolling.compare(Estimate.plus_minus(22, 3, "permille"), before).verdict == "worse"


def test_words_go_by_the_interval():
    assert "freely" in rolling.judgement(Estimate.plus_minus(15, 3, "permille"))
    assert "hard" in rolling.judgement(Estimate.plus_minus(45, 5, "permille"))
    assert "usual limit" in rolling.judgement(Estimate.plus_minus(27, 5, "permille"))


@pytest.mark.parametrize(
    "call",
    [
        lambda: rolling.from_tilt([0]),
        lambda: rolling.from_tilt([45]),
        lambda: rolling.from_tilt([]),
        lambda: rolling.from_slope([10], 0),
        lambda: rolling.from_ramp([500], 50, 40),
        lambda: rolling.from_ramp([-5], 20, 400),
        lambda: rolling.from_coasting([0.2], []),
        lambda: rolling.from_coasting([-0.2], [100]),
    ],
)
def test_readings_that_cannot_be_are_refused(call):
    with pytest.raises(InputError):
        call()
