"""Pictures for pages show what was put in."""

import io

import numpy as np
from PIL import Image

from outshop.bench.sound.measure import digest_samples
from outshop.bench.sound.pictures import as_png, peaks, spectrogram

RATE = 16_000


def test_a_tone_lies_in_its_row_and_the_png_opens():
    t = np.arange(3 * RATE) / RATE
    digest = digest_samples((0.5 * np.sin(2 * np.pi * 1000 * t)).astype("f4"), RATE)
    picture = spectrogram(digest, 100, 80)
    row = np.nanmean(picture.level_db, 0).argmax()
    frequency = picture.lowest_hz * (picture.highest_hz / picture.lowest_hz) ** (row / 79)
    assert abs(frequency / 1000 - 1) < 0.07
    image = Image.open(io.BytesIO(as_png(picture)))
    assert image.size == (100, 80)
    darkest = np.asarray(image)[:, 50].argmin()
    assert darkest == 79 - row


def test_peaks_follow_the_loudness():
    t = np.arange(2 * RATE) / RATE
    digest = digest_samples((0.4 * np.sin(2 * np.pi * 1000 * t) * (t > 1)).astype("f4"), RATE)
    drawn = peaks(digest, 10)
    assert max(drawn[:4]) < 0.05
    assert abs(drawn[7] - 0.4) < 0.02
