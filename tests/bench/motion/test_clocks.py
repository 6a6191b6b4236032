"""Stop-watch, gates and laps become speeds whose intervals hold the truth."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from outshop.bench.motion.clocks import Kind, Timing, at_scale, clocked, from_clip, from_lap_time
from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable
from outshop.railway.scales import scale

WATCH, GATES, LAPS = Kind.STOP_WATCH, Kind.GATES, Kind.LAPS


def speed(kind, way_mm, *seconds, **more):
    return clocked(Timing(kind, way_mm, seconds, **more)).speed


@pytest.mark.parametrize("kind", [WATCH, GATES, LAPS])
def test_speed_is_way_over_time(kind):
    found = speed(kind, 1000, 5.0)
    assert found.value == pytest.approx(0.2)
    assert found.low < 0.2 < found.high


def test_laps_count_as_often_as_they_were_run():
    assert speed(LAPS, 2000, 30.0, laps=3).value == pytest.approx(0.2)


def test_three_laps_in_one_time_are_surer_than_one_lap():
    # without an error of the loop, which more laps do not mend
    one, three = (speed(LAPS, 2000, 10.0 * n, laps=n, way_tolerance_mm=0) for n in (1, 3))
    assert three.half_width == pytest.approx(one.half_width / 3, rel=0.02)


def test_gates_are_surer_than_a_hand():
    assert speed(GATES, 1000, 5.0).half_width < speed(WATCH, 1000, 5.0).half_width / 5


def test_uneven_times_are_less_sure_and_say_so():
    even, uneven = (speed(GATES, 1000, *t) for t in ((5, 5.01, 4.99), (5, 5.9, 4.1)))
    assert uneven.half_width > 10 * even.half_width
    assert any("the speed itself changed" in w for w in uneven.warnings)
    assert not any("the speed itself changed" in w for w in even.warnings)


def test_a_single_hand_stopped_time_by_plain_arithmetic():
    """t(8, 0.975) = 2.306 (JCGM 100:2008, table G.2); two presses of 0.1 s; 0.03 s of bias."""
    found = speed(WATCH, 1000, 5.0, way_tolerance_mm=0)
    half = math.hypot(2.306 * math.sqrt(2) * 0.1, 1.96 * math.hypot(0.03, 0.01 / math.sqrt(12)))
    assert found.low == pytest.approx(1 / (5 + half), rel=1e-4)
    assert found.high == pytest.approx(1 / (5 - half), rel=1e-4)


def test_the_way_alone_makes_the_interval_of_a_perfect_time():
    found = speed(GATES, 1000, 1000.0, way_tolerance_mm=20)
    assert found.half_width / found.value == pytest.approx(0.02, rel=1e-3)


def test_a_time_no_longer_than_its_uncertainty_gives_no_speed():
    found = speed(WATCH, 50, 0.2)
    assert isinstance(found, NotMeasurable)
    assert "longer way" in found.reason


@pytest.mark.parametrize(("n", "wander"), [(1, 0.0), (3, 0.01), (5, 0.01)])
def test_19_of_20_intervals_hold_the_truth(n, wander):
    """A hand with presses of 0.1 s, a bias of 0.03 s, a display of 0.01 s, a way within 1 mm."""
    rng, held, runs = np.random.default_rng(7), 0, 700
    for _ in range(runs):
        true = 5 * (1 + wander * rng.standard_normal(n))
        presses = 0.1 * rng.standard_normal((n, 2)) @ [1, -1]
        read = np.round(true + presses + 0.03 * rng.standard_normal(), 2)
        found = speed(WATCH, 1000 + 0.51 * rng.standard_normal(), *read)
        held += found.low <= 1 / (true[0] if n == 1 else 5) <= found.high
    assert 0.92 <= held / runs <= 0.99


@given(st.floats(100, 5000), st.floats(2, 60), st.floats(1.01, 3))
def test_a_longer_time_is_a_slower_speed(way, seconds, factor):
    assert speed(GATES, way, seconds * factor).value < speed(GATES, way, seconds).value


@given(st.floats(50, 5000), st.floats(0.5, 60), st.floats(2, 50))
def test_a_length_unit_makes_no_difference(way, seconds, factor):
    """Ten times the way in ten times the time is the same speed."""
    one = speed(GATES, way, seconds).value
    assert speed(GATES, way * factor, seconds * factor).value == pytest.approx(one)


def test_scale_speed_by_nem_010_and_its_ratio():
    """H0 is 1:87 (NEM 010): 0.447 m/s is 140 km/h, as in the norm's own reckoning for NEM 661."""
    assert at_scale(Estimate.exact(140 / 3.6 / 87, "m/s"), scale("H0")).value == pytest.approx(140)
    assert at_scale(Estimate.exact(0.447, "m/s"), scale("H0")).unit == "km/h"
    assert isinstance(at_scale(Estimate.exact(0.4, "m/s"), None), NotMeasurable)
    with pytest.raises(InputError, match="m/s is needed"):
        at_scale(Estimate.exact(40, "km/h"), scale("H0"))


@pytest.mark.parametrize(
    ("way", "times", "says"),
    [
        (0, [1], "way of 0 mm"),
        (-100, [1], "way of -100 mm"),
        (math.nan, [1], "way of nan mm"),
        (100, [], "at least one time"),
        (100, [0], "time of 0 s"),
        (100, [-2], "time of -2 s"),
        (100, [math.nan], "time of nan s"),
        (100, [math.inf], "time of inf s"),
        (100, [1.0] * 1001, "1000 are enough"),
    ],
)
def test_a_way_or_time_that_is_none_is_refused_in_a_sentence(way, times, says):
    with pytest.raises(InputError, match=says):
        Timing(WATCH, way, tuple(times))


def test_the_lap_time_heard_gives_the_speed_of_the_loop():
    lap = Estimate.plus_minus(10.0, 0.1, "s")
    found = from_lap_time(lap, 2000, 0.0).speed
    assert found.value == pytest.approx(0.2)
    assert (found.low, found.high) == pytest.approx((2 / 10.1, 2 / 9.9))
    unheard = from_lap_time(NotMeasurable("no laps", "s"), 2000).speed
    assert isinstance(unheard, NotMeasurable)
    with pytest.raises(InputError, match="loop of 0 mm"):
        from_lap_time(lap, 0)


def test_a_clip_stands_beside_the_clocks_as_it_is():
    clip = Estimate.plus_minus(0.2, 0.004, "m/s")
    assert from_clip(clip).speed == clip
    with pytest.raises(InputError, match="above 0"):
        from_clip(Estimate.exact(0, "m/s"))
