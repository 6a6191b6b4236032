"""Weighting and bands against the tables of the standards and against other libraries."""

import librosa
import numpy as np
import pytest
from mosqito.sound_level_meter import noct_spectrum

from outshop.bench.sound.measure import digest_samples, measure_samples
from outshop.bench.sound.weighting import (
    a_weighting_db,
    third_octave_edges,
    third_octave_midbands,
    third_octave_power_gain,
)

# IEC 61672-1 table of A-weightings, seen as GOST 17187-2010 table 2, at 1000·10^(k/10) Hz
IEC_A = (
    "-70.4 -63.4 -56.7 -50.5 -44.7 -39.4 -34.6 -30.2 -26.2 -22.5 -19.1 -16.1 -13.4 -10.9 -8.6 "
    "-6.6 -4.8 -3.2 -1.9 -0.8 0.0 0.6 1.0 1.2 1.3 1.2 1.0 0.5 -0.1 -1.1 -2.5 -4.3 -6.6 -9.3"
)


def test_a_weighting_rounds_to_the_table_at_all_exact_frequencies():
    exact = 1000 * 10 ** (np.arange(-20, 14) / 10)
    wanted = [float(x) for x in IEC_A.split()]
    assert np.round(a_weighting_db(exact), 1) + 0.0 == pytest.approx(wanted, abs=1e-9)


def test_a_weighting_agrees_with_librosa():
    frequency = np.geomspace(20, 20_000, 50)
    theirs = librosa.A_weighting(frequency, min_db=None)
    assert a_weighting_db(frequency) == pytest.approx(theirs, abs=0.02)


@pytest.mark.parametrize("frequency", [63.0957, 125.8925, 1000.0, 3981.07, 10_000.0])
def test_a_tone_is_weighted_as_the_table_says(frequency):
    rate, amplitude = 48_000, 0.5
    tone = (amplitude * np.sin(2 * np.pi * frequency * np.arange(4 * rate) / rate)).astype("f4")
    measured = measure_samples(tone, rate, full_scale_db=94.0).level_as_recorded.value
    wanted = 94 + 20 * np.log10(amplitude) + float(a_weighting_db(np.array([frequency]))[0])
    assert measured == pytest.approx(wanted, abs=0.05)


def test_third_octave_midbands_are_those_of_iec_61260():
    # IEC 61260-1 exact base-ten midbands: 630.96, 794.33, 1258.9, 1584.9 Hz
    bands = third_octave_midbands(600, 1600)
    assert bands == pytest.approx([630.96, 794.33, 1000.0, 1258.93, 1584.89], rel=1e-5)


def test_third_octave_edges_touch_and_lie_at_10_to_the_twentieth():
    bands = third_octave_midbands()
    low, high = third_octave_edges(bands)
    assert high / bands == pytest.approx(1.12202, rel=1e-5)  # IEC 61260-1: 10^(1/20)
    assert low[1:] == pytest.approx(high[:-1])


def test_shaped_filters_lose_half_the_power_at_the_edges():
    low, high = third_octave_edges(np.array([1000.0]))
    gains = third_octave_power_gain(np.array([low[0], 1000.0, high[0]]), 1000.0)
    assert gains == pytest.approx([0.5, 1.0, 0.5], rel=1e-6)


def test_shaped_filters_keep_within_class_1():
    # IEC 61260-1:2014 table 1, class 1, from memory: at an octave away at least 42 dB down,
    # within the inner half of the band at most 0.6 dB down
    ratio = np.array([0.5, 1.965, 0.95, 1.05])
    level = 10 * np.log10(third_octave_power_gain(1000 * ratio, 1000.0))
    assert (level[:2] < -42).all()
    assert (level[2:] > -0.6).all()


def test_bands_of_noise_agree_with_mosqito(rng):
    rate = 48_000
    noise = rng.standard_normal(6 * rate).astype("f4") * 0.1
    theirs, bands = noct_spectrum(noise, rate, fmin=100, fmax=10_000)
    digest = digest_samples(noise, rate)
    ours = 10 * np.log10(digest.thirds.mean(0))
    for level, band in zip(20 * np.log10(np.asarray(theirs).ravel()), bands, strict=True):
        nearest = int(np.argmin(np.abs(np.log(digest.midbands_hz / band))))
        assert ours[nearest] == pytest.approx(level, abs=0.8)


@pytest.mark.shared
def test_bands_of_a_real_motor_agree_with_its_analyser(shared_data):
    """Off the steep skirts of its 2.5 kHz line, which the analyser's own filters shape."""
    text = (shared_data / "electric_motor_vibration_signal.uff").read_text(encoding="latin-1")
    values = []
    for line in text.splitlines()[13:]:
        if line.strip() == "-1":
            break
        values += [float(x) for x in line.split()]
    scale = 4000.0
    digest = digest_samples((np.array(values) / scale).astype("f4"), 51_200)
    ours = 10 * np.log10(digest.thirds.mean(0)) + 20 * np.log10(scale)
    table = (shared_data / "electric_motor_vibration_3oct_oros.txt").read_text().splitlines()[2:]
    readings = dict(tuple(map(float, line.split())) for line in table if line.strip())
    for band, reading in readings.items():
        if band < 80 or band in (1600, 2000, 3150):
            continue
        nearest = int(np.argmin(np.abs(np.log(digest.midbands_hz / band))))
        assert ours[nearest] == pytest.approx(20 * np.log10(reading), abs=1.6), band
