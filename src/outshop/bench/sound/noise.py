"""Sounds that follow no order: squeal and crackle."""

import numpy as np
from scipy.ndimage import maximum_filter1d, median_filter
from scipy.special import chdtri

from outshop.bench.sound.digest import Float32Array
from outshop.bench.sound.filters import highpassed
from outshop.bench.sound.spectrum import LogAxis
from outshop.bench.sound.weighting import FloatArray
from outshop.estimate import Estimate, NotMeasurable, Reading

SQUEAL_BAND_HZ = (1200.0, 9000.0)  # dry bearings and flanges; ours
SQUEAL_LEAST_DB = 15.0  # noise reaches 12 dB now and then; ours
ORDER_WIDTH = 0.02  # masked around each order, share of its frequency; ours
CRACKLE_FROM_HZ = 2500.0  # sparks and clicks are broadband, tones and gears lie lower; ours
CRACKLE_SLOT_S = 0.002
CRACKLE_DB = 10.0  # above the 50 ms around; Gaussian noise in a slot varies by about 1 dB; ours


def squeal(
    excess_db: Float32Array, axis: LogAxis, speed: FloatArray, orders: FloatArray, hop_s: float
) -> Reading:
    """Find a tone that follows no order, as dB above its surroundings.

    Parameters
    ----------
    excess_db : array [shape=(frames, axis.size)]
        Whitened spectrogram.
    axis : LogAxis
        Its frequencies.
    speed : array [shape=(frames,)]
        Motor speed in 1/s.
    orders : array [shape=(k,)]
        Orders that the drive may make.
    hop_s : float
        Step of the frames in seconds.

    Returns
    -------
    Reading
        Median over the loudest fifth of the time; 0 when no such tone stands out.
    """
    band = (axis.frequency_hz > SQUEAL_BAND_HZ[0]) & (axis.frequency_hz < SQUEAL_BAND_HZ[1])
    if band.sum() < 10 or len(excess_db) < 20:
        return NotMeasurable("too short, or its sample rate too low, to find a squeal", "dB")
    masked = excess_db[:, band].copy()
    low = axis.frequency_hz[band][0]
    wide = int(np.ceil(ORDER_WIDTH * axis.steps_per_octave / np.log(2)))
    rows = np.arange(len(masked))
    for order in orders:
        place = np.log2(np.maximum(order * speed, 1e-6) / low) * axis.steps_per_octave
        for offset in range(-wide, wide + 1):
            column = np.round(place + offset).astype(int)
            good = (column >= 0) & (column < masked.shape[1])
            masked[rows[good], column[good]] = 0.0
    # a squeal holds its pitch for a moment
    steady = median_filter(masked, size=(5, 1))
    top = steady.max(1)
    value = float(np.quantile(top, 0.9))
    blocks = _block_quantiles(top, round(0.5 / hop_s))
    error = float(blocks.std(ddof=1) / np.sqrt(blocks.size)) if blocks.size > 2 else 2.0
    if value < SQUEAL_LEAST_DB:
        value = 0.0
    return Estimate.plus_minus(
        value,
        1.96 * max(error, 0.3),
        "dB",
        method="strongest tone from 1.2 to 9 kHz off all orders",
    )


def _block_quantiles(top: FloatArray, size: int) -> FloatArray:
    count = max(1, top.size // size)
    return np.array([np.quantile(part, 0.9) for part in np.array_split(top, count)])


def crackle(samples: Float32Array, rate: float) -> Reading:
    """Count short broadband bangs a second.

    Parameters
    ----------
    samples : array [shape=(n,)]
        Running time.
    rate : float
        Sample rate in Hz.

    Returns
    -------
    Reading
        1/s with the exact Poisson interval (Garwood 1936).
    """
    size = int(rate * CRACKLE_SLOT_S)
    count = samples.size // size
    if count < 250 or rate < 2.5 * CRACKLE_FROM_HZ:
        return NotMeasurable("too short, or its sample rate too low, to count crackle", "1/s")
    high = highpassed(samples[: count * size], rate, CRACKLE_FROM_HZ, 4).reshape(count, size)
    level = 10 * np.log10(np.square(high).mean(1) + 1e-20)
    around = median_filter(level, size=round(0.05 / CRACKLE_SLOT_S) | 1)
    bang = (level - around > CRACKLE_DB) & (level >= maximum_filter1d(level, 5))
    number = int(bang.sum())
    seconds = samples.size / rate
    low = chdtri(2 * number, 0.975) / 2 if number else 0.0
    high_end = chdtri(2 * number + 2, 0.025) / 2
    return Estimate(
        number / seconds,
        float(low) / seconds,
        float(high_end) / seconds,
        "1/s",
        method=f"{number} bangs above {CRACKLE_FROM_HZ / 1000:g} kHz; Poisson interval",
    )
