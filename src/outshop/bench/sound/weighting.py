"""A-weighting and fractional-octave bands, straight from the formulas of the standards."""

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

# pole frequencies in Hz of the A-weighting, IEC 61672-1 (from memory; they reproduce its table)
F1, F2, F3, F4 = 20.598997, 107.65265, 737.86223, 12194.217
NORMAL_HZ = 1000.0  # where the weighting is 0 dB, IEC 61672-1


def a_weighting_db(frequency_hz: FloatArray) -> FloatArray:
    """Give the A-weighting in dB.

    Parameters
    ----------
    frequency_hz : array [shape=(n,)]
        Frequencies in Hz, 0 or more; at 0 the weighting is minus infinity.

    Returns
    -------
    array [shape=(n,)]
        Weighting in dB, 0 at 1 kHz (IEC 61672-1, formula E.1).
    """
    with np.errstate(divide="ignore"):
        return np.asarray(20 * np.log10(a_weighting_gain(frequency_hz)))


def a_weighting_gain(frequency_hz: FloatArray) -> FloatArray:
    """Give the A-weighting as an amplitude factor; see :func:`a_weighting_db`."""
    return np.asarray(_shape(np.asarray(frequency_hz, dtype=float)) / _shape(np.array(NORMAL_HZ)))


def _shape(frequency_hz: FloatArray) -> FloatArray:
    f2 = np.square(frequency_hz)
    shape = F4**2 * f2**2 / ((f2 + F1**2) * (f2 + F4**2))
    return np.asarray(shape / np.sqrt((f2 + F2**2) * (f2 + F3**2)))


G = 10 ** (3 / 10)  # octave ratio, base ten, IEC 61260-1 (2014) 5.2


def third_octave_midbands(lowest_hz: float = 25.0, highest_hz: float = 20_000.0) -> FloatArray:
    """Give the exact third-octave midbands 1000 · G^(k/3) between two frequencies, in Hz."""
    first = np.ceil(3 * np.log(lowest_hz / 1000) / np.log(G) - 0.1)
    last = np.floor(3 * np.log(highest_hz / 1000) / np.log(G) + 0.1)
    return np.asarray(1000 * G ** (np.arange(first, last + 1) / 3))


def third_octave_edges(midband_hz: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Give lower and upper band edges, midband ÷ and × G^(1/6) (IEC 61260-1, 5.5), in Hz."""
    return np.asarray(midband_hz / G ** (1 / 6)), np.asarray(midband_hz * G ** (1 / 6))


def third_octave_power_gain(frequency_hz: FloatArray, midband_hz: float) -> FloatArray:
    """Give the power gain of a shaped third-octave filter.

    The shape is that of a Butterworth band-pass with four pole pairs: half power at the edges,
    within the class 1 limits of IEC 61260-1, table 1, and skirts that let a strong neighbour
    leak much as a real analyser's do (checked against one, see docs/methods/sound.md).

    Parameters
    ----------
    frequency_hz : array [shape=(n,)]
        Frequencies in Hz.
    midband_hz : float
        Exact midband in Hz.

    Returns
    -------
    array [shape=(n,)]
        Power gain, 1 at the midband.
    """
    q = 1 / (G ** (1 / 6) - G ** (-1 / 6))
    with np.errstate(divide="ignore", invalid="ignore"):
        detuning = q * (frequency_hz / midband_hz - midband_hz / np.maximum(frequency_hz, 1e-9))
    return np.asarray(1 / (1 + detuning**8))
