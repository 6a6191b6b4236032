"""Slip, true ratio and whole teeth, by arithmetic and by simulation."""

import json
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from outshop.bench.motion.run import run_slip
from outshop.bench.motion.slip import measure_slip, wheel_diameter
from outshop.bench.motion.teeth import whole_teeth
from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable


def near(value, share, unit):
    return Estimate.plus_minus(value, share * value, unit)


WHEEL = wheel_diameter(16, 0.1)
TURNS = near(5.0, 0.002, "1/s")
RIM = 5 * math.pi * 0.016  # m/s; a 16 mm wheel rolls 50.27 mm a turn


def track(share, error=0.01):
    return near(share * RIM, error, "m/s")


@pytest.mark.parametrize(("share", "percent"), [(1.0, 0), (0.5, 50), (0.9, 10)])
def test_slip_by_arithmetic(share, percent):
    assert measure_slip(TURNS, WHEEL, track(share)).slip.value == pytest.approx(percent, abs=1e-9)


def test_first_order_interval_of_the_slip():
    """JCGM 100:2008, 5.1.6: shares of 0.2, 1 and 0.625 % in quadrature."""
    found = measure_slip(TURNS, WHEEL, track(0.8)).slip
    expected = 80 * math.sqrt(0.002**2 + 0.01**2 + (0.1 / 16) ** 2)
    assert found.half_width == pytest.approx(expected, rel=0.01)


@pytest.mark.parametrize(
    ("share", "verdict"), [(0.9, "slips"), (1.0, "no_provable_slip"), (1.1, "negative")]
)
def test_each_verdict(share, verdict):
    assert measure_slip(TURNS, WHEEL, track(share)).verdict == verdict


def test_negative_slip_is_said_plainly_with_the_wheel_that_would_roll():
    found = measure_slip(TURNS, WHEEL, track(1.1, 0.002))
    assert found.rolling_diameter.value == pytest.approx(17.6)
    assert "no wheel slips that way" in found.says[0]
    assert "17.60" in found.says[0]


def test_an_unsure_wheel_is_named_as_what_makes_the_interval():
    found = measure_slip(TURNS, wheel_diameter(10, 0.5), track(0.6, 0.001))
    assert any("the wheel's diameter, ±0.5 mm" in s for s in found.says)
    sure = measure_slip(TURNS, wheel_diameter(16, 0.0), track(0.9))
    assert not any("the wheel's diameter" in s for s in sure.says)


def test_slip_that_was_said_not_to_be_there_is_contradicted():
    found = measure_slip(TURNS, WHEEL, track(0.8), rolling=True)
    assert "do not meet" in found.says[0]


def test_the_true_ratio_only_when_nothing_slips():
    motor = near(67.5, 0.002, "1/s")
    assert isinstance(measure_slip(TURNS, WHEEL, track(1), motor=motor).ratio, NotMeasurable)
    found = measure_slip(TURNS, WHEEL, track(1), motor=motor, given_ratio=20.0, rolling=True)
    assert found.ratio.value == pytest.approx(13.5)
    assert any("does not fit" in s for s in found.says)


def test_19_of_20_slips_and_ratios_hold_the_truth():
    rng, runs, held = np.random.default_rng(5), 600, [0, 0]
    for _ in range(runs):
        d, n, ratio = rng.uniform(8, 25), rng.uniform(3, 10), rng.uniform(10, 30)
        v = 0.8 * math.pi * d / 1000 * n
        errors = 1 + np.array([0.004, 0.006]) * rng.standard_normal(2)
        wheel = near(n * errors[0], 1.96 * 0.004, "1/s")
        bench = measure_slip(
            wheel,
            wheel_diameter(d + 0.1 / 1.96 * rng.standard_normal(), 0.1),
            near(v * errors[1], 1.96 * 0.006, "m/s"),
            motor=wheel * ratio,
            rolling=True,
        )
        held[0] += bench.slip.low <= 20 <= bench.slip.high
        # with 20 % slip the ratio seems larger by 1 / 0.8
        held[1] += bench.ratio.low <= ratio / 0.8 <= bench.ratio.high
    assert all(0.92 <= h / runs <= 0.98 for h in held)


def test_readings_that_are_missing_give_their_reason():
    none = NotMeasurable("too quiet", "1/s")
    assert "too quiet" in measure_slip(none, WHEEL, track(1)).slip.reason
    still = Estimate(0.0, 0.0, 0.1, "1/s")
    assert "standing still" in measure_slip(still, WHEEL, track(1)).slip.reason


@pytest.mark.parametrize("mm", [0, -16, math.nan, 1000])
def test_a_wheel_that_is_none_is_refused(mm):
    with pytest.raises(InputError, match="wheel of"):
        wheel_diameter(mm)


def test_units_must_be_those_of_the_bench():
    with pytest.raises(InputError, match="needed in m/s"):
        measure_slip(TURNS, WHEEL, near(50, 0.01, "km/h"))
    with pytest.raises(InputError, match="must not be negative"):
        measure_slip(TURNS, WHEEL, Estimate(-0.2, -0.3, -0.1, "m/s"))


# teeth


def test_counted_teeth_that_fit_come_first():
    ratio = 53 / 11 * 41 / 13
    found = whole_teeth(near(ratio, 0.01, ""), [(11, 53), (13, 41)])
    assert found.nearest[0].written == "11:53, 13:41"
    assert found.nearest[0].off_percent == pytest.approx(0, abs=1e-9)


def test_a_miscounted_tooth_is_found():
    found = whole_teeth(near(54 / 11, 0.001, ""), [(11, 53)])
    assert found.nearest[0].written == "11:54"


def test_a_worm_is_found_without_counting_by_brute_force():
    ratio = near(24.02, 0.003, "")
    found = whole_teeth(ratio)
    assert found.nearest[0].written == "1:24"
    brute = {
        b / a
        for a, b in [*((s, w) for s in (1, 2, 3) for w in range(8, 81)),
                     *((p, w) for p in range(8, 25) for w in range(10, 121))]
        if ratio.low <= b / a <= ratio.high
    }  # fmt: skip
    assert {round(t.ratio, 9) for t in found.nearest} <= {round(b, 9) for b in brute}
    assert brute == {24.0}


@given(st.floats(3, 15), st.floats(0.002, 0.05))
def test_every_ratio_found_lies_in_the_interval_and_is_that_of_its_teeth(value, share):
    ratio = near(value, share, "")
    for teeth in whole_teeth(ratio).nearest:
        assert ratio.low <= teeth.ratio <= ratio.high
        assert teeth.ratio == pytest.approx(math.prod(b / a for a, b in teeth.stages))


# from the sound bench's JSON


def heard(status="confident", **more):
    return {
        "motor_speed": near(67.5, 0.002, "1/s").as_json(),
        "wheel_speed": TURNS.as_json(),
        "motor_speed_status": status,
        "drive": {"wheel_diameter_mm": 16.0, "ratio": 13.5,
                  "stages": [{"driver_teeth": 2, "driven_teeth": 27}]},
        **more,
    }  # fmt: skip


def test_sound_and_track_are_joined_with_the_drives_wheel():
    found = run_slip(heard(), track(0.9), rolling=False)
    assert found.bench.slip.value == pytest.approx(10)
    json.dumps({**found.bench.as_json(), **found.as_json()}, allow_nan=False)


def test_an_ambiguous_sound_gives_each_slip_that_fits_and_no_verdict():
    found = run_slip(heard("ambiguous", alternatives=[33.75]), track(0.45))
    assert found.bench.verdict == "not_measurable"
    slips = {speed: slip.value for speed, slip in found.alternatives}
    assert slips == pytest.approx({67.5: 55, 33.75: 10})


def test_a_missing_wheel_or_another_file_is_a_sentence():
    with pytest.raises(InputError, match="diameter is not known"):
        run_slip({**heard(), "drive": None}, track(1))
    with pytest.raises(InputError, match="no motor speed"):
        run_slip({"drive": {"wheel_diameter_mm": 16.0}}, track(1))
