"""High-pass and slower sampling by Fourier transform and plain sums.

``scipy.signal`` does both, but its import alone takes longer than all its use here.
"""

import numpy as np
import scipy.fft

from outshop.bench.sound.digest import Float32Array

LOBES = 16  # zero crossings of the sinc on either side: a transition 0.1 of the new rate wide; ours
KAISER = 6.0  # side lobes 63 dB down (Kaiser 1974: beta = 0.1102 (A - 8.7)); ours


def highpassed(samples: Float32Array, rate: float, cutoff_hz: float, order: int) -> Float32Array:
    """Take off what lies below a frequency, without delay.

    Parameters
    ----------
    samples : array [shape=(n,)]
        Sound.
    rate : float
        Sample rate in Hz.
    cutoff_hz : float
        Where half the power passes.
    order : int
        Of the Butterworth gain 1/√(1 + (cutoff/f)^(2·order)) (Butterworth 1930).

    Returns
    -------
    array [shape=(n,)]
        The sound above; outside of the stretch counts as silence.
    """
    padded = scipy.fft.next_fast_len(samples.size + int(4 * rate / cutoff_hz), real=True)
    spectrum = scipy.fft.rfft(np.asarray(samples, np.float32), padded)
    frequency = np.arange(1, spectrum.size) * (rate / padded)
    spectrum[0] = 0
    spectrum[1:] *= (1 / np.sqrt(1 + (cutoff_hz / frequency) ** (2 * order))).astype(np.float32)
    return np.asarray(scipy.fft.irfft(spectrum, padded)[: samples.size])


def slower(samples: Float32Array, factor: int) -> Float32Array:
    """Keep every ``factor``-th sample of sound that is low-passed first.

    Parameters
    ----------
    samples : array [shape=(n,)]
        Sound.
    factor : int
        2 or more.

    Returns
    -------
    array [shape=(ceil(n / factor),)]
        Sound up to 0.45 of the new rate, by a sinc under a Kaiser window.
    """
    half = LOBES * factor
    taps = np.sinc(np.arange(-half, half + 1) / factor) * np.kaiser(2 * half + 1, KAISER)
    taps = (taps / taps.sum()).astype(np.float32)
    edge = np.zeros(half, np.float32)
    padded = np.concatenate([edge, samples, edge])
    out = taps[half] * padded[half : half + samples.size : factor]
    for k in range(1, half + 1):
        if k % factor:  # the sinc is 0 at its multiples
            left = padded[half - k : half - k + samples.size : factor]
            out += taps[half + k] * (left + padded[half + k : half + k + samples.size : factor])
    return np.asarray(out)
