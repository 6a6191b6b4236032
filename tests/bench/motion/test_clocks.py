"""Stop-watch, gates and laps give the clip's estimate; slip and ratio by plain arithmetic."""

import math

import numpy as np
import pytest

from outshop.bench.motion.clocks import agreement, slip, speed_over, true_ratio
from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable


def near(value, half, unit):
    return Estimate.plus_minus(value, half, unit)


def test_speed_is_way_over_time():
    found = speed_over(1000, [5.0])
    assert found.value == pytest.approx(0.2)
    assert found.low < 0.2 < found.high


def test_more_laps_are_surer_and_uneven_laps_less_sure():
    one, many = speed_over(2000, [10.0]), speed_over(2000, [10.0, 10.05, 9.95, 10.0])
    uneven = speed_over(2000, [10.0, 12.0, 8.0, 10.0])
    assert many.half_width < one.half_width < uneven.half_width


def test_the_interval_covers_95_of_100_hand_stopped_runs():
    rng = np.random.default_rng(7)
    held = 0
    for _ in range(600):
        times = 5 + rng.normal(0, 0.1, (3, 2)) @ [1, -1]
        found = speed_over(1000 + rng.normal(0, 1), times)
        held += found.low <= 0.2 <= found.high
    assert 0.92 <= held / 600 <= 0.99


@pytest.mark.parametrize(("way", "times"), [(0, [1]), (100, []), (100, [0]), (math.nan, [1])])
def test_a_way_or_time_that_is_none_is_refused(way, times):
    with pytest.raises(InputError, match="are needed"):
        speed_over(way, times)


def test_clocks_that_agree_hold_zero_and_others_do_not():
    clip = near(0.2, 0.002, "m/s")
    same, off = (
        agreement(clip, near(0.201, 0.004, "m/s")),
        agreement(clip, near(0.22, 0.004, "m/s")),
    )
    assert same.low < 0 < same.high
    assert off.low > 0
    assert off.value == pytest.approx(10)
    assert isinstance(agreement(clip, NotMeasurable("no", "m/s")), NotMeasurable)


def test_slip_and_ratio_by_arithmetic():
    """A 16 mm wheel rolls pi x 16 = 50.27 mm a turn."""
    turns = near(5.0, 0.01, "1/s")
    rolling = near(5 * math.pi * 0.016, 0.0005, "m/s")
    assert slip(turns, 16, rolling).value == pytest.approx(0, abs=1e-9)
    assert slip(turns, 16, rolling / 2).value == pytest.approx(50)
    assert true_ratio(near(67.5, 0.1, "1/s"), 16, rolling).value == pytest.approx(13.5)
