"""Whitened spectrograms on a logarithmic frequency axis, where a change of speed is a shift."""

from dataclasses import dataclass

import numpy as np
import scipy.fft
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from outshop.bench.sound.digest import Float32Array
from outshop.bench.sound.weighting import FloatArray

LOWEST_HZ = 25.0  # below, phones record next to nothing; ours
STEPS_PER_OCTAVE = 96  # 0.72 % a step: a third of the 2 % wanted; ours
FLOOR_CAP_DB = 4.0  # tones lift the floor by no more than this; ours
CHUNK = 64  # frames transformed at a time: they stay in the processor's cache
FLOOR_BINS = 15  # half of it must be wider than a Hann main lobe (4 bins); ours


@dataclass(frozen=True)
class LogAxis:
    """Frequencies in equal steps of log frequency."""

    lowest_hz: float
    steps_per_octave: int
    size: int

    @classmethod
    def up_to(
        cls, highest_hz: float, lowest_hz: float = LOWEST_HZ, steps: int = STEPS_PER_OCTAVE
    ) -> "LogAxis":
        """Make an axis from ``lowest_hz`` to ``highest_hz``."""
        return cls(lowest_hz, steps, int(np.log2(highest_hz / lowest_hz) * steps) + 1)

    @property
    def frequency_hz(self) -> FloatArray:
        """Centre of each step, shape (size,)."""
        steps = np.arange(self.size) / self.steps_per_octave
        return np.asarray(self.lowest_hz * np.exp2(steps))

    def position(self, frequency_hz: float) -> float:
        """Give the place of a frequency on the axis, in steps."""
        return float(np.log2(frequency_hz / self.lowest_hz) * self.steps_per_octave)


def whitened(
    samples: Float32Array, rate: float, window_s: float, hop_s: float, axis: LogAxis
) -> Float32Array:
    """Give how far each spot of the spectrogram stands above its surroundings, in dB.

    Parameters
    ----------
    samples : array [shape=(n,)]
        Sound.
    rate : float
        Sample rate in Hz.
    window_s, hop_s : float
        Length and step of the Hann windows in seconds.
    axis : LogAxis
        Frequencies wanted.

    Returns
    -------
    array [shape=(frames, axis.size)]
        dB above the local floor; frame i is centred on i·hop_s.
    """
    size = int(window_s * rate)
    padded = scipy.fft.next_fast_len(2 * size, real=True)
    hop = hop_s * rate
    frames = max(1, int(samples.size / hop))
    window = np.hanning(size).astype(np.float32)
    shield = np.concatenate([np.zeros(size, np.float32), samples, np.zeros(size, np.float32)])
    starts = (np.arange(frames) * hop + size - size // 2).astype(int)
    edges = np.sqrt(axis.frequency_hz[1:] * axis.frequency_hz[:-1]) * padded / rate
    place = axis.frequency_hz * padded / rate
    out = np.empty((frames, axis.size), np.float32)
    table = np.lib.stride_tricks.sliding_window_view(shield, size)
    for first in range(0, frames, CHUNK):
        block = table[starts[first : first + CHUNK]] * window
        level = decibel(squared(scipy.fft.rfft(block, padded, axis=1)))
        out[first : first + CHUNK] = _on_axis(level - _floor(level), place, edges)
    return out


def squared(spectrum: NDArray[np.complex64]) -> Float32Array:
    """Give the square of the modulus, without the square root that ``abs`` takes first."""
    return np.asarray(np.square(spectrum.real) + np.square(spectrum.imag))


def decibel(power: Float32Array) -> Float32Array:
    """Give 10 lg of a power: by the natural logarithm, which numpy takes many at a time."""
    level = np.log(power + np.float32(1e-20))
    level *= np.float32(10 / np.log(10))
    return np.asarray(level)


def _floor(level: Float32Array) -> Float32Array:
    """Local mean level along frequency, tones capped."""
    width = 4 * FLOOR_BINS + 1  # spectra are zero-padded twofold
    first = uniform_filter1d(level, width, axis=1)
    capped = np.minimum(level, first + FLOOR_CAP_DB)
    return np.asarray(uniform_filter1d(capped, width, axis=1))


def _on_axis(excess: Float32Array, place: FloatArray, edges: FloatArray) -> Float32Array:
    """Interpolate where the axis is finer than the bins, take the largest where it is coarser."""
    below = np.minimum(place.astype(int), excess.shape[1] - 2)
    share = (place - below).astype(np.float32)
    out = excess[:, below] * (1 - share) + excess[:, below + 1] * share
    coarse = int(np.searchsorted(np.diff(edges), 1.0)) + 1
    if coarse < place.size - 1:
        cuts = np.minimum(np.ceil(edges[coarse - 1 :]).astype(int), excess.shape[1] - 1)
        largest = np.maximum.reduceat(excess, cuts, axis=1)[:, :-1]
        out[:, coarse : coarse + largest.shape[1]] = largest
    return np.asarray(out, np.float32)
