"""The simulated locomotive does what it is told, and its faults show where they should."""

import io

import av
import numpy as np
import pytest
import soundfile
from scipy import signal

from outshop.errors import InputError
from outshop.rig.clip import Camera, film
from outshop.rig.current import as_csv, log_current
from outshop.rig.locomotive import Faults, Locomotive, Microphone, Stage
from outshop.rig.programme import STEP_S, Phase, bench_programme, drive
from outshop.rig.sound import record

STEADY = (Phase(1, 0), Phase(7, 0.8), Phase(1, 0))


def level(samples):
    return 20 * np.log10(np.sqrt(2 * np.mean(np.square(samples, dtype=float))))


def run_of(faults=None, programme=STEADY, wander=0.0, **drive_settings):
    return drive(Locomotive(faults=faults or Faults(), **drive_settings), programme, 3, wander)


def test_it_stands_runs_both_ways_and_stops():
    run = drive(Locomotive(), bench_programme())
    at = lambda t: run.speed_m_s[round(t / STEP_S)]  # noqa: E731
    assert at(3) == at(31) == at(58) == 0
    assert at(20) > 0.25
    assert at(45) == pytest.approx(-at(20), rel=0.05)


def test_way_is_speed_times_time_and_wheel_turns_times_circumference():
    run = run_of()
    way = np.sum(run.speed_m_s) * STEP_S
    assert run.wheel_turns[-1] * np.pi * 0.0161 == pytest.approx(way, rel=1e-9)


def test_below_the_starting_setting_it_stands():
    assert not run_of(programme=(Phase(5, 0.1),)).speed_m_s.any()


def test_a_binding_axle_swings_the_speed_once_per_wheel_turn():
    depth = 0.3
    run = run_of(Faults(binding_axle=depth))
    part = slice(round(3 / STEP_S), round(7 / STEP_S))
    speed, turns = run.speed_m_s[part], run.wheel_turns[part]
    assert speed.min() / speed.max() == pytest.approx(1 - depth, abs=0.01)
    even = np.interp(np.arange(np.ceil(turns[0]), np.floor(turns[-1]), 1 / 64), turns, speed)
    spectrum = np.abs(np.fft.rfft(even - even.mean()))
    strongest = np.argmax(spectrum) / (len(even) / 64)
    assert strongest == pytest.approx(1, abs=0.05)


def test_the_sound_holds_the_mesh_and_commutator_lines_where_arithmetic_puts_them():
    """Mesh = motor speed x teeth; commutator ripple of an odd armature = 2 x poles x speed."""
    loco = {"poles": 5, "stages": (Stage(11, 50), Stage(12, 40))}
    run = run_of(**loco)
    speed = run.speed_m_s[round(5 / STEP_S)]
    motor = speed / (np.pi * 0.0161) * (50 / 11) * (40 / 12)
    quiet = Microphone(noise_floor_db=-90, hum_db=-100, room=0)
    sound = record(run, quiet).samples[3 * 48_000 : 7 * 48_000]
    frequency, power = signal.welch(sound, 48_000, nperseg=32_768)
    for line in (motor * 10, motor * 11, motor * 11 / 50 * 12):
        near = power[np.abs(frequency - line) < 4].max()
        floor = np.median(power[np.abs(frequency - line) < 60])
        assert 10 * np.log10(near / floor) > 10


@pytest.mark.parametrize(
    "faults",
    [Faults(rough_mesh=10), Faults(brush_noise=15), Faults(crackle=40), Faults(dry_squeal=2)],
    ids=["mesh", "brushes", "crackle", "squeal"],
)
def test_each_fault_is_louder_running_and_silent_at_rest(faults):
    healthy, faulty = record(run_of()).samples, record(run_of(faults)).samples
    running, still = slice(3 * 48_000, 7 * 48_000), slice(0, 40_000)
    if not faults.rough_mesh:  # the others are heard above the mesh
        high = signal.butter(4, 3000, "highpass", fs=48_000, output="sos")
        healthy, faulty = signal.sosfilt(high, healthy), signal.sosfilt(high, faulty)
    assert level(faulty[running]) > level(healthy[running]) + 1
    assert level(faulty[still]) == pytest.approx(level(healthy[still]), abs=0.5)


def test_a_binding_axle_modulates_the_level_once_per_wheel_turn():
    faulty, healthy = (_wheel_modulation(run_of(f)) for f in (Faults(binding_axle=0.3), Faults()))
    assert faulty > 0.1
    assert faulty > 5 * healthy


def _wheel_modulation(run):
    """Relative size of the envelope's part that repeats with the wheel turn."""
    sound = record(run).samples[3 * 48_000 : 7 * 48_000].astype(float)
    envelope = np.sqrt(np.mean(sound.reshape(-1, 240) ** 2, axis=1))
    turns = np.interp(3 + (np.arange(len(envelope)) + 0.5) / 200, run.t_s, run.wheel_turns)
    return abs(np.mean((envelope / envelope.mean() - 1) * np.exp(-2j * np.pi * turns)))


def test_the_noise_floor_is_the_one_asked_for():
    still = record(run_of(programme=(Phase(3, 0),)), Microphone(noise_floor_db=-50, hum_db=-120))
    assert level(still.samples) == pytest.approx(-50, abs=0.3)


def test_the_wav_is_16_bit_and_holds_the_samples():
    recording = record(run_of(programme=(Phase(0.5, 0.8),)))
    samples, rate = soundfile.read(io.BytesIO(recording.wav()))
    info = soundfile.info(io.BytesIO(recording.wav()))
    assert (rate, info.subtype) == (48_000, "PCM_16")
    np.testing.assert_allclose(samples, recording.samples, atol=1 / 32_000)


def test_the_same_seed_gives_the_same_sound_and_another_does_not():
    run = run_of(programme=(Phase(0.5, 0.8),))
    assert record(run, seed=1).wav() == record(run, seed=1).wav()
    assert record(run, seed=1).wav() != record(run, seed=2).wav()


def test_the_current_log_shows_rest_start_and_ripple():
    """At the start the armature stands: current = volts / resistance, far above running."""
    run = run_of()
    time_s, current, volts = log_current(run)
    assert current[time_s < 0.9].max() < 0.02
    assert (
        current[(time_s > 1) & (time_s < 1.4)].max()
        > 3 * current[(time_s > 5) & (time_s < 7)].mean()
    )
    assert volts[time_s > 8.1].max() == 0
    steady = current[(time_s > 4) & (time_s < 7)]
    frequency, power = signal.periodogram(steady - steady.mean(), 2000)
    motor = run.speed_m_s[round(5 / STEP_S)] / (np.pi * 0.0161) * 13.5
    assert frequency[np.argmax(power)] == pytest.approx(6 * motor, rel=0.02)
    assert as_csv(time_s, current, volts).splitlines()[0] == "time_s,current_a,voltage_v"


def test_the_film_moves_as_the_run_did(tmp_path):
    run = run_of(programme=(Phase(0.2, 0), Phase(1.6, 0.9)))
    camera = Camera(width=640, height=360, pixels_per_mm=0.8, noise=1)
    film(run, tmp_path / "c.mp4", camera)
    with av.open(str(tmp_path / "c.mp4")) as clip:
        frames = [(float(f.time), f.to_ndarray(format="gray")) for f in clip.decode(video=0)]
    dark = [np.flatnonzero(image[240:244].mean(axis=0) < 65) for _, image in frames]
    ways = [(d[0] + d[-1]) / 2 / 0.8 for d in dark]
    truth = [np.interp(t, run.t_s, run.wheel_turns) * np.pi * 16.1 for t, _ in frames]
    np.testing.assert_allclose(np.array(ways) - ways[0], truth, atol=1.5)


@pytest.mark.parametrize("programme", [(), (Phase(0, 0.5),), (Phase(1, 1.5),)])
def test_an_impossible_programme_is_refused(programme):
    with pytest.raises(InputError, match="-1 to 1"):
        drive(Locomotive(), programme)
