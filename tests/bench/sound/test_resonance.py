"""What does not move with the speed is told from what does, on an independent simulator."""

from dataclasses import replace

import numpy as np
import pytest
from recording_simulator import Model, Scene, record
from scipy import signal

from outshop.bench.sound import measure_samples, read_drive
from outshop.bench.sound.resonance import find_resonances, why_untold

RATE = 22_050
HOP_S = 0.01
SCENE = Scene(
    Model(5, ((1, 22), (14, 18)), 15.0, 87),
    rate=RATE,
    run_s=10.0,
    drift=0.18,
    snr_db=22.0,
    resonances=0,
    seed=7,
)


def found_in(scene):
    take = record(scene)
    bench = measure_samples(take.samples, scene.rate, read_drive(scene.model.toml()))
    return take, bench


@pytest.mark.parametrize("seed", [3, 5])
def test_rings_of_the_shell_are_found_where_they_are(seed):
    take, bench = found_in(replace(SCENE, resonances=3, seed=seed))
    places = [r["frequency_hz"] for r in bench.fixed_resonances]
    assert bench.fixed_resonances_note == ""
    loud = [f for f, quality, boost in take.rings if quality > 10 and boost > 3]
    assert loud, "the scene must hold a clear ring"
    for frequency in loud:
        assert any(p == pytest.approx(frequency, rel=0.03) for p in places)
    for row in bench.fixed_resonances:
        near = [f for f, q, _ in take.rings if abs(row["frequency_hz"] / f - 1) < max(0.04, 1 / q)]
        assert near, f"nothing rings at {row['frequency_hz']:.0f} Hz"
        assert row["low_hz"] < row["frequency_hz"] < row["high_hz"]


def test_the_tones_of_a_drive_are_no_resonances():
    _, bench = found_in(SCENE)
    assert bench.motor_speed_status == "confident"
    assert sum(order["heard"] for order in bench.orders) > 3
    assert bench.fixed_resonances == ()
    assert bench.fixed_resonances_note == ""


def test_an_even_speed_tells_nothing_and_says_so():
    _, bench = found_in(replace(SCENE, resonances=3, drift=0.01))
    assert bench.fixed_resonances == ()
    assert "varied by 1%" in bench.fixed_resonances_note
    assert "while the speed rises slowly" in bench.fixed_resonances_note


def test_without_a_speed_it_is_said_that_nothing_can_be_told():
    take = record(SCENE)
    bench = measure_samples(take.samples[: 4 * RATE], RATE)
    assert "cannot be told" in bench.fixed_resonances_note


def test_a_short_run_tells_nothing():
    assert "less than 4 s" in why_untold(np.linspace(50, 60, 200), HOP_S)


def swept(rng, seconds=8.0):
    """A comb of tones on a speed that rises by a fifth, with noise; speed every 10 ms."""
    t = np.arange(int(seconds * RATE)) / RATE
    speed = 50 * (1 + 0.2 * t / seconds)
    angle = np.cumsum(speed) / RATE
    tones = sum(np.sin(2 * np.pi * k * angle + k) for k in (6, 12, 18, 22, 44))
    return tones + 0.5 * rng.standard_normal(t.size), speed[:: RATE // 100]


def test_the_height_of_a_ring_is_that_of_its_filter(rng):
    """Against the filter's own response (scipy), its top over the median 0.4 octaves around."""
    sound, speed = swept(rng)
    b, a = signal.iirpeak(2500, 12, fs=RATE)
    around = 2500 * 2 ** np.linspace(-0.4, 0.4, 201)
    response = 20 * np.log10(np.abs(1 + 3 * signal.freqz(b, a, around, fs=RATE)[1]))
    wanted = response.max() - np.median(response)
    ringing = (sound + 3 * signal.lfilter(b, a, sound)).astype("f4")
    (one,) = find_resonances(ringing, RATE, speed, HOP_S)
    assert one.frequency_hz == pytest.approx(2500, rel=0.02)
    assert one.prominence_db == pytest.approx(wanted, abs=1.5)
    assert find_resonances(sound.astype("f4"), RATE, speed, HOP_S) == ()


def test_a_gain_and_a_wrong_factor_of_the_speed_change_no_resonance(rng):
    sound, speed = swept(rng)
    b, a = signal.iirpeak(1800, 15, fs=RATE)
    ringing = (sound + 3 * signal.lfilter(b, a, sound)).astype("f4")
    plain = find_resonances(ringing, RATE, speed, HOP_S)
    other = find_resonances(0.1 * ringing, RATE, 2 * speed, HOP_S)
    assert [r.frequency_hz for r in other] == pytest.approx([r.frequency_hz for r in plain])
    assert [r.prominence_db for r in other] == pytest.approx(
        [r.prominence_db for r in plain], abs=0.1
    )
