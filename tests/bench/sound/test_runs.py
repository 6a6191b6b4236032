"""Still and running stretches, laps, events."""

import numpy as np
import pytest
from recording_simulator import coloured, random_scene, record

from outshop.bench.sound.digest import Digester
from outshop.bench.sound.laps import lap_time
from outshop.bench.sound.measure import digest_samples, measure_samples
from outshop.bench.sound.runs import find_runs
from outshop.estimate import Estimate, NotMeasurable


@pytest.mark.parametrize("seed", range(8))
def test_starts_and_stops_are_found_within_015_s_at_15_db(seed):
    scene = random_scene(seed, snr_db=15.0, run_s=7.0, ramp_s=0.3, lap_s=0.0, rate=22_050)
    take = record(scene)
    runs = find_runs(digest_samples(take.samples, scene.rate))
    assert [r.state for r in runs] == ["still", "running", "still"]
    assert runs[1].start_s == pytest.approx(take.start_s, abs=0.15)
    assert runs[1].end_s == pytest.approx(take.stop_s, abs=0.15)


def test_laps_are_not_taken_for_stops():
    scene = random_scene(
        12,
        run_s=20.0,
        snr_db=20.0,
        rate=22_050,
        quiet_s=0.0,
        tail_s=0.0,
        ramp_s=0.0,
        lap_s=5.0,
        lap_db=9.0,
    )
    take = record(scene)
    runs = find_runs(digest_samples(take.samples, scene.rate))
    assert [r.state for r in runs] == ["running"]


@pytest.mark.parametrize("lap", [3.1, 4.4])
def test_lap_time_is_found_within_2_percent(lap):
    scene = random_scene(12, run_s=18.0, lap_s=lap, lap_db=8.0, drift=0.05, swing=0.0)
    digest = digest_samples(record(scene).samples, scene.rate)
    found = lap_time(digest, find_runs(digest))
    assert isinstance(found, Estimate)
    assert found.value == pytest.approx(lap, rel=0.02)
    assert found.low <= lap <= found.high


def test_a_steady_sound_has_no_laps(rng):
    digest = digest_samples(coloured(rng, 20 * 16_000, 0.5).astype("f4") * 0.01, 16_000)
    assert isinstance(lap_time(digest, find_runs(digest)), NotMeasurable)


def test_silence_is_a_result_not_a_crash():
    bench = measure_samples(np.zeros(32_000, "f4"), 16_000)
    assert [r.state for r in bench.runs] == ["still"]
    assert bench.motor_speed_status == "not_found"
    assert "nothing runs" in bench.level.reason


@pytest.mark.parametrize("count", [0, 1, 48, 5000])
def test_next_to_nothing_is_a_result_not_a_crash(rng, count):
    bench = measure_samples(rng.standard_normal(count).astype("f4") * 0.1, 16_000)
    assert bench.motor_speed_status == "not_found"


def test_the_size_of_the_pieces_does_not_matter(rng):
    sound = rng.standard_normal(90_000).astype("f4") * 0.1
    whole, parts = Digester(16_000), Digester(16_000)
    whole.feed(sound)
    for first in range(0, sound.size, 777):
        parts.feed(sound[first : first + 777])
    one, other = whole.finish(), parts.finish()
    assert np.array_equal(one.power_a, other.power_a)
    assert np.array_equal(one.excerpts[0].samples, other.excerpts[0].samples)


def test_a_long_recording_keeps_few_samples(rng):
    digester = Digester(8_000)
    piece = rng.standard_normal(8_000 * 20).astype("f4") * 0.1
    for _ in range(60):  # 20 minutes
        digester.feed(piece)
    kept = sum(e.samples.size for e in digester.finish().excerpts)
    assert kept <= 66 * 4 * 8_000


def test_events_name_start_steady_and_coasting():
    scene = random_scene(5, run_s=8.0, ramp_s=1.0, snr_db=25.0, lap_s=0.0, swing=0.0)
    take = record(scene)
    from outshop.bench.sound import read_drive

    bench = measure_samples(take.samples, scene.rate, read_drive(scene.model.toml()))
    states = [e["state"] for e in bench.events]
    assert states == ["still", "starting", "steady", "coasting", "still"]
    steady = bench.events[2]
    assert steady["start_s"] == pytest.approx(take.start_s + 1.0, abs=0.3)
    assert steady["end_s"] == pytest.approx(take.stop_s - 1.0, abs=0.3)


def test_two_runs_with_a_short_stop_may_be_a_change_of_direction():
    one = record(random_scene(5, run_s=5.0, tail_s=0.75, lap_s=0.0, rate=22_050))
    two = record(random_scene(5, run_s=5.0, quiet_s=0.75, lap_s=0.0, rate=22_050))
    bench = measure_samples(np.concatenate([one.samples, two.samples]), 22_050)
    assert "turning back" in [e["state"] for e in bench.events]
