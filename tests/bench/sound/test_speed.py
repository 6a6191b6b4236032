"""The motor's speed from sound, on an independent simulator and against librosa."""

from dataclasses import replace

import librosa
import numpy as np
import pytest
from recording_simulator import (
    Model,
    Scene,
    coloured,
    hum_only,
    music,
    random_model,
    random_scene,
    record,
    speech,
)
from scipy.signal import resample

from outshop.bench.sound import Drive, measure_samples, read_drive
from outshop.bench.sound.hum import find_hum, without_tones
from outshop.bench.sound.spectrum import LogAxis, whitened
from outshop.bench.sound.track import best_path, harmonic_sum, spot_evidence
from outshop.bench.sound.warp import even_turning, order_spectrum

RATE = 22_050


def measured(scene, drive_text=None):
    take = record(scene)
    return take, measure_samples(
        take.samples, scene.rate, read_drive(drive_text or scene.model.toml())
    )


@pytest.mark.parametrize("seed", [1001, 1002, 1003, 1004, 1005, 1006])
def test_motor_speed_is_within_2_percent_on_unseen_recordings(seed):
    scene = random_scene(seed, run_s=8.0, rate=RATE)
    take, bench = measured(scene)
    assert bench.motor_speed_status in ("confident", "ambiguous")
    assert bench.motor_speed.value == pytest.approx(take.motor_rate, rel=0.02)
    assert bench.wheel_speed.value == pytest.approx(take.motor_rate / scene.model.ratio, rel=0.02)
    assert bench.scale_speed.value == pytest.approx(scene.kmh, rel=0.15)  # it drifts


def test_a_binding_wheel_does_not_draw_the_mean_to_its_turning_points():
    scene = Scene(Model(5, ((1, 24), (14, 20)), 14.0, 87), 55.0, RATE, run_s=10.0, swing=0.15)
    take, bench = measured(scene)
    assert bench.motor_speed.value == pytest.approx(take.motor_rate, rel=0.01)
    assert bench.speed_swing.value == pytest.approx(15, abs=2)


def test_loudness_once_per_wheel_turn_is_measured():
    scene = Scene(Model(3, ((1, 20),), 16.0, 87), 50.0, RATE, run_s=10.0, wheel_am=0.3)
    _, bench = measured(scene)
    assert bench.wheel_turn_modulation.value == pytest.approx(30, abs=2)
    assert bench.wheel_turn_modulation.low <= 30 <= bench.wheel_turn_modulation.high


@pytest.mark.parametrize("maker", [speech, music, hum_only])
def test_no_speed_is_invented_from_other_sounds(maker):
    for seed in (21, 22):
        rng = np.random.default_rng(seed)
        sound = maker(rng, 8.0, RATE)
        model, _ = random_model(rng)
        bench = measure_samples(sound, RATE, read_drive(model.toml()))
        assert bench.motor_speed_status == "not_found"
        assert not hasattr(bench.motor_speed, "value")


@pytest.mark.parametrize("seed", [31, 32, 33])
def test_a_drive_that_does_not_belong_is_never_confident(seed):
    wrong, _ = random_model(np.random.default_rng(seed + 500))
    _, bench = measured(random_scene(seed, run_s=8.0, rate=RATE), wrong.toml())
    assert bench.motor_speed_status != "confident"


def test_stretching_time_scales_the_speed_and_nothing_else():
    scene = random_scene(1004, run_s=8.0, rate=RATE, hum_hz=0.0)
    take, plain = measured(scene)
    slower = resample(take.samples.astype(float), int(take.samples.size * 1.1)).astype("f4")
    other = measure_samples(slower, RATE, read_drive(scene.model.toml()))
    ratio = plain.motor_speed.value / other.motor_speed.value
    assert ratio == pytest.approx(1.1, rel=0.003)


def test_without_a_drive_families_and_rates_are_named():
    scene = Scene(Model(3, ((1, 20),), 16.0, 87), 50.0, RATE, run_s=8.0, wheel_am=0.4)
    take = record(scene)
    bench = measure_samples(take.samples, RATE)
    assert bench.motor_speed_status == "not_found"
    tones = [f for f in bench.families if f["kind"] == "tones"]
    turns = [f["frequency_hz"] / take.motor_rate for f in tones]
    assert any(abs(t - round(t)) < 0.02 for t in turns)
    rates = [f["frequency_hz"] for f in bench.families if f["kind"] == "rate"]
    assert any(r == pytest.approx(take.motor_rate / 20, rel=0.05) for r in rates)
    assert "once per wheel turn" in bench.families[-1]["could_be"][0]


def test_a_speed_from_outside_gives_the_ratio():
    scene = Scene(Model(3, ((1, 20),), 16.0, 87), 50.0, RATE, run_s=8.0)
    take = record(scene)
    poles_only = Drive(poles=3, wheel_diameter_mm=16.0, scale=87.0)
    bench = measure_samples(take.samples, RATE, poles_only, scale_speed_km_h=50.0)
    if bench.motor_speed_status == "not_found":
        pytest.fail("the motor was not found from its commutation")
    nearest = min(
        [bench.inferred_ratio.value]
        + [a / bench.motor_speed.value * bench.inferred_ratio.value for a in bench.alternatives],
        key=lambda r: abs(r - 20),
    )
    assert nearest == pytest.approx(20, rel=0.02)


def test_harmonic_sum_picks_the_same_pitch_as_librosa_salience():
    """librosa.salience sums interpolated harmonics of a spectrogram: an independent code path."""
    base = 140.0
    t = np.arange(3 * RATE) / RATE
    sound = sum(np.sin(2 * np.pi * base * k * t) / k for k in (1, 2, 3, 4))
    axis, speeds = LogAxis.up_to(8000), LogAxis.up_to(400, 80)
    excess = whitened(sound.astype("f4"), RATE, 0.1, 0.02, axis)
    weights = np.ones(4)
    ours = harmonic_sum(spot_evidence(excess), axis, np.arange(1.0, 5), weights, speeds)
    mean = ours[20:-20].mean(0)
    # strong tones are clipped to a plateau: its middle is the pitch
    best = float(np.exp(np.log(speeds.frequency_hz[mean > 0.97 * mean.max()]).mean()))
    spectrum = np.abs(librosa.stft(sound, n_fft=4096))
    frequency = librosa.fft_frequencies(sr=RATE, n_fft=4096)
    theirs = librosa.salience(spectrum, freqs=frequency, harmonics=[1, 2, 3, 4], fill_value=0)
    inside = (frequency > 80) & (frequency < 400)
    pitch = frequency[inside][theirs.mean(1)[inside].argmax()]
    assert best == pytest.approx(base, rel=0.01)
    assert best == pytest.approx(pitch, rel=0.04)


def test_best_path_is_the_best_by_brute_force(rng):
    score = rng.standard_normal((6, 4)).astype("f4")
    path, mean = best_path(score, 1, 0.3)

    def value(states):
        moves = np.abs(np.diff(states))
        return -np.inf if (moves > 1).any() else score[range(6), states].sum() - 0.3 * moves.sum()

    every = [np.array(p) for p in np.ndindex(*(4,) * 6)]
    best = max(every, key=value)
    assert value(path.astype(int)) == pytest.approx(value(best), abs=1e-5)
    assert mean == pytest.approx(value(best) / 6, abs=1e-5)


def test_even_turning_makes_a_tone_of_a_sweep():
    t = np.arange(6 * RATE) / RATE
    speed = 50 + 5 * np.sin(2 * np.pi * 0.4 * t)
    sound = np.sin(2 * np.pi * 12 * np.cumsum(speed) / RATE).astype("f4")
    even = even_turning(sound, RATE, speed[:: RATE // 100], 1 / 100)
    spectrum = order_spectrum(even)
    peak = spectrum.frequency_hz[spectrum.level_db.argmax()]
    assert peak == pytest.approx(12 * even.mean_speed, rel=0.002)
    # a sine of amplitude 1 has a mean square of -3.01 dB; the tone must be sharp to reach it
    assert spectrum.level_db.max() == pytest.approx(-3.01, abs=1.2)


def test_even_turning_at_constant_speed_is_librosas_resampling():
    t = np.arange(2 * RATE) / RATE
    sound = (np.sin(2 * np.pi * 300 * t) + 0.5 * np.sin(2 * np.pi * 1700 * t)).astype("f4")
    even = even_turning(sound, RATE, np.full(200, 80.0), 0.01)
    theirs = librosa.resample(sound, orig_sr=RATE, target_sr=RATE, res_type="linear")
    assert even.samples[100:-100] == pytest.approx(theirs[100:-100], abs=1e-3)


def test_hum_is_found_and_taken_off(rng):
    t = np.arange(8 * RATE) / RATE
    noise = 0.01 * coloured(rng, t.size, 0.5)
    hum = 0.05 * np.sin(2 * np.pi * 50.02 * t) + 0.03 * np.sin(2 * np.pi * 100.04 * t)
    tones = find_hum((noise + hum).astype("f4"), RATE)
    assert [round(x.frequency_hz) for x in tones] == [50, 100]
    rest = without_tones((noise + hum).astype("f4"), RATE, tones)
    assert rest.std() == pytest.approx(noise.std(), rel=0.02)


def test_a_moving_tone_is_no_hum(rng):
    t = np.arange(8 * RATE) / RATE
    sweep = np.sin(2 * np.pi * (95 * t + 0.6 * t**2))
    assert find_hum((sweep + 0.01 * coloured(rng, t.size, 0)).astype("f4"), RATE) == ()


def test_the_order_table_names_what_was_put_in():
    scene = Scene(Model(3, ((1, 20),), 16.0, 87), 50.0, RATE, run_s=8.0)
    _, bench = measured(scene)
    heard = {o["name"] for o in bench.orders if o["heard"]}
    assert {"commutation (6 per turn)", "stage 1 worm mesh"} <= heard
    for order in bench.orders:
        wanted = order["order"] * bench.motor_speed.value
        assert order["frequency_hz"] == pytest.approx(wanted, rel=0.01)


def test_adding_still_time_changes_no_speed():
    scene = random_scene(1004, run_s=8.0, rate=RATE)
    take = record(scene)
    drive = read_drive(scene.model.toml())
    plain = measure_samples(take.samples, RATE, drive)
    more = np.concatenate([take.noise[:RATE].astype("f4"), take.samples])
    longer = measure_samples(more, RATE, drive)
    assert longer.motor_speed.value == pytest.approx(plain.motor_speed.value, rel=0.002)
    assert replace(longer, runs=()).motor_speed_status == plain.motor_speed_status
