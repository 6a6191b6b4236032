"""Current logs of simulated motors, built here from their own truth."""

import json

import numpy as np
import pytest

from outshop.bench.electrics.current import measure
from outshop.bench.electrics.log import CurrentLog
from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable

RUN, PEAK, RIPPLE = 0.35, 1.2, 137.3


def log(spans, rate=1000, noise=0.01, seed=0, ripple=0.05, tau=0.08, hz=RIPPLE):
    """Build a log from spans (state, seconds, level); a start decays from PEAK."""
    rng = np.random.default_rng(seed)
    parts = []
    for state, seconds, level in spans:
        t = np.arange(round(seconds * rate)) / rate
        shape = np.full(t.size, float(level))
        if state == "run":
            size = abs(level)
            shape = size + (PEAK - size) * np.exp(-t / tau)
            shape += ripple * size * np.sin(2 * np.pi * hz * t)
            shape *= np.sign(level)
        parts.append(shape + (0.002 if state == "off" else noise) * rng.standard_normal(t.size))
    current = np.concatenate(parts)
    return CurrentLog(np.arange(current.size) / rate, current)


FULL = [("off", 2, 0), ("run", 10, RUN), ("stall", 1.5, PEAK), ("off", 1, 0)]


@pytest.mark.parametrize("rate", [10, 50, 100, 1000, 5000])
def test_phases_come_in_order_at_their_times(rate):
    bench = measure(log(FULL, rate))
    assert [p.state for p in bench.phases] == ["off", "starting", "running", "stalled", "off"]
    ends = [p.end_s for p in bench.phases]
    slack = max(0.03, 1.1 / rate)
    assert ends[0] == pytest.approx(2, abs=slack)
    assert 2 < ends[1] < 2.5
    assert ends[2:4] == pytest.approx([12, 13.5], abs=slack)


def test_currents_are_those_put_in():
    bench = measure(log(FULL), poles=3)
    for reading, truth in (
        (bench.running_current, RUN),
        (bench.starting_peak, PEAK),
        (bench.stalled_current, PEAK),
        (bench.ripple_frequency, RIPPLE),
        (bench.motor_speed, RIPPLE / 6),  # 2n ripples a turn for odd n
    ):
        assert reading.value == pytest.approx(truth, rel=0.03)
        assert reading.half_width < 0.06 * truth


@pytest.mark.parametrize(
    ("poles", "a_turn"), [(3, 6), (5, 10), (7, 14), (2, 2), (4, 4)]
)  # textbook commutation: 2n for odd n, n for even n
def test_motor_speed_follows_from_the_poles(poles, a_turn):
    bench = measure(log(FULL), poles=poles)
    assert bench.motor_speed.value == pytest.approx(bench.ripple_frequency.value / a_turn)


def test_both_directions_are_told_apart_by_sign():
    spans = [("off", 1, 0), ("run", 6, RUN), ("off", 1, 0), ("run", 6, -0.42), ("off", 1, 0)]
    runs = measure(log(spans)).runs
    assert [r.direction for r in runs] == ["forward", "backward"]
    assert [r.current.value for r in runs] == pytest.approx([RUN, 0.42], rel=0.01)


def test_slipping_is_a_sustained_higher_level_and_left_out_of_running():
    one = log([("off", 2, 0), ("run", 10, RUN), ("off", 1, 0)])
    current = one.current_a.copy()
    slipping = (one.time_s > 8) & (one.time_s < 10)
    current[slipping] += 0.25
    bench = measure(CurrentLog(one.time_s, current))
    assert bench.slip_current.value == pytest.approx(RUN + 0.25, rel=0.01)
    assert bench.running_current.value == pytest.approx(RUN, rel=0.01)
    assert "stalled" not in [p.state for p in bench.phases]


def test_a_motor_held_from_the_start_is_stalled():
    bench = measure(log([("off", 1, 0), ("stall", 2, PEAK), ("run", 8, RUN), ("off", 1, 0)]))
    assert [p.state for p in bench.phases][:2] == ["off", "stalled"]


def test_gaps_split_phases_and_are_said():
    one = log(FULL)
    keep = (one.time_s < 5) | (one.time_s > 6.5)
    bench = measure(CurrentLog(one.time_s[keep], one.current_a[keep]))
    assert [p.state for p in bench.phases].count("running") == 2
    assert any("missing" in w for w in bench.warnings)


def test_jittering_stamps_leave_the_ripple_where_it_is():
    rng = np.random.default_rng(4)
    t = np.sort(np.arange(12_000) / 1000 + rng.uniform(-4e-4, 4e-4, 12_000))
    current = RUN * (1 + 0.1 * np.sin(2 * np.pi * RIPPLE * t)) + 0.01 * rng.standard_normal(t.size)
    bench = measure(CurrentLog(t - t[0], current))
    assert bench.ripple_frequency.value == pytest.approx(RIPPLE, rel=1e-3)


def test_drift_while_warming_is_the_line_put_in():
    t = np.arange(0, 300, 0.1)
    rng = np.random.default_rng(1)
    current = 0.4 * (1 - 0.2 * (t / 300 - 0.5)) + 0.005 * rng.standard_normal(t.size)
    drift = measure(CurrentLog(t, current)).drift
    assert drift.value == pytest.approx(-20, abs=0.5)
    assert drift.half_width < 0.5


def test_regular_dips_give_the_wheel_rate():
    one = log([("off", 1, 0), ("run", 20, RUN), ("off", 1, 0)])
    current = one.current_a.copy()
    for start in np.arange(3, 20, 0.5):  # a dirty wheel, twice a second
        current[(one.time_s >= start) & (one.time_s < start + 0.05)] = 0.05
    bench = measure(CurrentLog(one.time_s, current))
    assert bench.dip_frequency.value == pytest.approx(2.0, rel=0.02)
    assert bench.dip_rate.low < 34 / 20 < bench.dip_rate.high


def test_alternating_current_is_measured_as_rms():
    """A sine of peak sqrt(2) x 0.5 A has 0.5 A rms."""
    t = np.arange(20_000) / 2000
    rms = np.where((t > 2) & (t < 8), 0.5, 0)
    noise = 0.002 * np.random.default_rng(0).standard_normal(t.size)
    bench = measure(CurrentLog(t, rms * np.sqrt(2) * np.sin(2 * np.pi * 50 * t) + noise))
    assert bench.running_current.value == pytest.approx(0.5, rel=0.01)
    assert [p.state for p in bench.phases] == ["off", "running", "off"]
    assert isinstance(bench.ripple_frequency, NotMeasurable)


def test_rms_volts_of_half_wave_supply_become_the_mean_of_nem_630():
    """NEM 630 (1982): 18.75 V on an rms meter, half wave, is 12.0 V mean."""
    t = np.arange(0, 20, 0.1)
    one = CurrentLog(t, np.full(t.size, 0.3), np.full(t.size, 18.75))
    bench = measure(one, supply="half-wave", true_rms=True)
    assert bench.voltage.value == pytest.approx(12.0)
    assert "NEM 630" in bench.supply


@pytest.mark.parametrize("level", [0.0, 1e-3])
def test_noise_alone_is_off_and_nothing_is_measured(level):
    t = np.arange(5000) / 1000
    bench = measure(CurrentLog(t, level * np.random.default_rng(0).standard_normal(t.size)))
    assert [p.state for p in bench.phases] == ["off"]
    assert isinstance(bench.running_current, NotMeasurable)
    assert bench.warnings


def test_steady_noise_shows_no_ripple():
    rng = np.random.default_rng(7)
    t = np.arange(20_000) / 1000
    found = [
        measure(CurrentLog(t, RUN + 0.02 * rng.standard_normal(t.size))).ripple_frequency
        for _ in range(20)
    ]
    assert not any(isinstance(f, Estimate) for f in found)


def test_intervals_hold_the_truth_about_as_often_as_they_say():
    hits = {"running_current": 0, "ripple_frequency": 0}
    for seed in range(40):
        bench = measure(log([("off", 1, 0), ("run", 6, RUN)], seed=seed, noise=0.03))
        for name, truth in (("running_current", RUN), ("ripple_frequency", RIPPLE)):
            reading = getattr(bench, name)
            hits[name] += reading.low <= truth <= reading.high
    assert all(h >= 34 for h in hits.values()), hits  # 34 of 40: one in 2000 below at 95 %


def test_the_answer_is_plain_json():
    shape = measure(log(FULL)).as_json()
    json.dumps(shape, allow_nan=False)
    assert {"phases", "running_current", "starting_peak", "ripple_frequency"} <= shape.keys()


@pytest.mark.parametrize("bad", [{"supply": "steam"}, {"poles": 1}, {"supply": "pwm"}])
def test_settings_that_cannot_be_are_refused(bad):
    with pytest.raises(InputError):
        measure(log(FULL), **bad)


def test_a_wandering_speed_gives_its_mean_not_its_turning_point():
    """Ripple of 150 per second on average, swinging by 6 with the wheel turns."""
    rate = 2000
    t = np.arange(0, 20, 1 / rate)
    phase = 2 * np.pi * np.cumsum(150 + 6 * np.sin(2 * np.pi * 0.3 * t)) / rate
    noise = 0.01 * np.random.default_rng(3).standard_normal(t.size)
    bench = measure(CurrentLog(t, RUN + 0.03 * np.sin(phase) + noise))
    assert bench.ripple_frequency.value == pytest.approx(150, abs=0.7)
    assert bench.ripple_frequency.low < 150 < bench.ripple_frequency.high


def test_dirt_on_the_rail_neither_splits_the_run_nor_lowers_its_current():
    rng = np.random.default_rng(5)
    one = log([("off", 1, 0), ("run", 18, RUN), ("off", 1, 0)], ripple=0)
    current = one.current_a.copy()
    for start in rng.uniform(3, 18, 30):
        gap = (one.time_s >= start) & (one.time_s < start + 0.03)
        current[gap] = 0.004 * rng.standard_normal(gap.sum())
    bench = measure(CurrentLog(one.time_s, current))
    assert [p.state for p in bench.phases] == ["off", "starting", "running", "off"]
    assert bench.running_current.value == pytest.approx(RUN, rel=0.01)
    assert isinstance(bench.ripple_frequency, NotMeasurable)


@pytest.mark.parametrize("sign", [1, -1])
def test_a_log_of_five_rows_is_enough_for_phases(sign):
    bench = measure(CurrentLog(np.arange(5.0), sign * np.array([0, 0.3, 0.3, 0.3, 0])))
    assert [p.state for p in bench.phases] == ["off", "running", "off"]
    assert bench.running_current.low <= 0.3 <= bench.running_current.high


def test_readings_without_any_noise_keep_an_honest_interval():
    """Exact values, held in single precision, rounded to the hundredth."""
    t = np.arange(8000) / 1000
    current = np.where((t >= 2) & (t < 7), 0.35, 0.0).astype(np.float32)
    found = measure(CurrentLog(t, current)).running_current
    assert found.low < 0.35 < found.high
    assert found.half_width == pytest.approx(0.00475, rel=0.01)  # 95 % of half a step
