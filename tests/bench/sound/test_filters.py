"""Filters of the sound bench against scipy.signal's."""

import numpy as np
import pytest
from scipy import signal

from outshop.bench.sound.filters import highpassed, slower

RATE = 24_000


def test_highpass_has_the_gain_of_scipys_analogue_butterworth(rng):
    sound = rng.standard_normal(8 * RATE).astype(np.float32)
    for cutoff, order in ((150.0, 2), (2500.0, 4)):
        frequency, after = signal.welch(highpassed(sound, RATE, cutoff, order), RATE, nperseg=2048)
        _, before = signal.welch(sound, RATE, nperseg=2048)
        analogue = signal.butter(order, 2 * np.pi * cutoff, "high", analog=True)
        _, wanted = signal.freqs(*analogue, 2 * np.pi * frequency)
        near = (frequency > cutoff / 2) & (frequency < 11_000)
        gain_db = 10 * np.log10(after[near] / before[near])
        assert np.abs(gain_db - 20 * np.log10(np.abs(wanted[near]))).max() < 0.3


def test_highpass_does_not_delay():
    click = np.zeros(RATE, np.float32)
    click[RATE // 2] = 1
    assert np.argmax(highpassed(click, RATE, 2500, 4)) == RATE // 2


@pytest.mark.parametrize("factor", [2, 3, 5])
def test_slower_keeps_a_tone_below_and_stops_one_above(factor):
    new = RATE / factor
    for share, wanted in ((0.02, 0.5), (0.4, 0.5), (0.65, 0.0), (0.9, 0.0)):
        tone = np.sin(2 * np.pi * share * new * np.arange(RATE) / RATE).astype(np.float32)
        kept = slower(tone, factor)[200:-200]
        assert np.square(kept).mean() == pytest.approx(wanted, abs=0.003)


def test_slower_agrees_with_scipys_resampling_of_what_lies_below(rng):
    sos = signal.butter(8, 3000, fs=RATE, output="sos")
    sound = signal.sosfilt(sos, rng.standard_normal(RATE)).astype(np.float32)
    difference = slower(sound, 2) - signal.resample_poly(sound, 1, 2)
    assert np.abs(difference[100:-100]).max() < 0.01 * sound.std()
