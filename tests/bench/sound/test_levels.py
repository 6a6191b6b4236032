"""Levels of run and room: known truths and relations."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from recording_simulator import Model, Scene, coloured, record

from outshop.bench.sound import measure_samples
from outshop.bench.sound.levels import measure_levels
from outshop.bench.sound.measure import digest_samples
from outshop.bench.sound.runs import find_runs
from outshop.estimate import Estimate, NotMeasurable

RATE = 22_050


def two_levels(rng, gap_db, still_s=4.0, run_s=8.0, level=0.001):
    still = coloured(rng, int(still_s * RATE), 0.3)
    run = coloured(rng, int(run_s * RATE), 0.3) * 10 ** (gap_db / 20)
    end = coloured(rng, int(still_s * RATE), 0.3)
    return (level * np.concatenate([still, run, end])).astype("f4")


def test_background_is_taken_off_by_energy(rng):
    """70 dB in all over 67.4 dB of room... by the rule L = 10 lg(10^(L1/10) - 10^(L2/10))."""
    bench = measure_samples(two_levels(rng, 6.0), RATE)
    assert bench.level_as_recorded.value - bench.background.value == pytest.approx(6.0, abs=0.3)
    # 6 dB in all: the machine alone is 10 lg(10^0.6 - 1) = 4.74 dB above the room
    assert bench.level.value - bench.background.value == pytest.approx(4.74, abs=0.4)


def test_a_gap_under_3_db_is_said_not_corrected(rng):
    bench = measure_samples(two_levels(rng, 2.0), RATE)
    assert isinstance(bench.level, NotMeasurable)
    assert "less than 3 dB" in bench.level.reason
    assert "cannot be corrected" in bench.level.reason
    assert isinstance(bench.level_as_recorded, Estimate)


def test_no_still_time_is_said(rng):
    bench = measure_samples((0.01 * coloured(rng, 6 * RATE, 0.5)).astype("f4"), RATE)
    assert isinstance(bench.background, NotMeasurable)
    assert any("not taken off" in w for w in bench.level.warnings)


def test_full_scale_sine_has_the_level_that_was_given():
    tone = np.sin(2 * np.pi * 1000 * np.arange(4 * RATE) / RATE).astype("f4")
    bench = measure_samples(tone, RATE, full_scale_db=110.0)
    assert bench.level.value == pytest.approx(110.0, abs=0.05)


def test_relative_levels_say_so(rng):
    bench = measure_samples(two_levels(rng, 10), RATE)
    assert any("relative to full scale" in w for w in bench.warnings)


SCENE = Scene(Model(3, ((1, 20), (12, 18)), 16.0, 87), rate=RATE, run_s=7.0, quiet_s=2.0)


@settings(max_examples=3)
@given(gain_db=st.floats(-20, 10))
def test_a_gain_changes_levels_by_exactly_that_and_no_speed(gain_db):
    take = record(SCENE)
    from outshop.bench.sound import read_drive

    drive = read_drive(SCENE.model.toml())
    plain = measure_samples(take.samples, RATE, drive)
    louder = measure_samples((take.samples * 10 ** (gain_db / 20)).astype("f4"), RATE, drive)
    assert louder.level.value - plain.level.value == pytest.approx(gain_db, abs=1e-3)
    assert louder.background.value - plain.background.value == pytest.approx(gain_db, abs=1e-3)
    assert louder.motor_speed.value == pytest.approx(plain.motor_speed.value, rel=1e-4)
    assert [r.state for r in louder.runs] == [r.state for r in plain.runs]


def test_polarity_does_nothing():
    take = record(SCENE)
    plain, turned = measure_samples(take.samples, RATE), measure_samples(-take.samples, RATE)
    assert turned.level.value == pytest.approx(plain.level.value, abs=1e-6)
    assert turned.runs == plain.runs


def test_more_still_time_changes_no_level(rng):
    take = record(SCENE)
    still = take.noise[: 2 * RATE].astype("f4")
    longer = np.concatenate([still, take.samples])
    plain, other = measure_samples(take.samples, RATE), measure_samples(longer, RATE)
    assert other.level.value == pytest.approx(plain.level.value, abs=0.1)
    assert other.runs[1].start_s == pytest.approx(plain.runs[1].start_s + 2, abs=0.05)


@pytest.mark.parametrize("laps", [1, 2])
def test_few_whole_laps_leave_the_level_open(rng, laps):
    """Whole laps are what is drawn again; one or two of them tell little about the next."""
    lap = 3.0
    run_s = laps * lap + 1.0
    swell = 1 + 0.6 * np.sin(2 * np.pi * np.arange(int(run_s * RATE)) / RATE / lap)
    samples = two_levels(rng, 25.0, run_s=run_s)
    first = int(4 * RATE)
    samples[first : first + len(swell)] *= swell.astype("f4")
    digest = digest_samples(samples, RATE)
    runs = find_runs(digest)
    level = measure_levels(digest, runs, lap_s=lap).level
    assert level.half_width > (2.5 if laps == 1 else 0.02)
    assert level.half_width < 6
    assert any("guess" in w for w in level.warnings) == (laps == 1)
