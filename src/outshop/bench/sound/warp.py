"""Angular resampling: the sound as if the motor had turned evenly, and its order spectrum."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import scipy.fft
from scipy.ndimage import map_coordinates, percentile_filter

from outshop.bench.sound.digest import Float32Array
from outshop.bench.sound.weighting import FloatArray

FLOOR_HZ = 40.0  # half width of the floor's surroundings; ours
FLOOR_SHARE = 0.02  # and as a share of the frequency, for lines that jitter; ours


@dataclass(frozen=True)
class EvenTurning:
    """Sound resampled to equal steps of the motor's angle.

    Parameters
    ----------
    samples : array [shape=(n,)]
        The sound at ``rate`` samples a second of a motor that turns at its mean speed.
    rate : float
        Samples per second.
    mean_speed : float
        Mean motor speed in 1/s.
    turned_s : array [shape=(n,)]
        Time at the mean speed, in s, that has passed at each *real* sample.
    """

    samples: Float32Array
    rate: float
    mean_speed: float
    turned_s: FloatArray


@dataclass(frozen=True)
class OrderSpectrum:
    """Mean power spectrum of the evenly turning sound.

    Parameters
    ----------
    frequency_hz : array [shape=(n,)]
        Frequencies at the mean speed, in Hz.
    level_db, floor_db : array [shape=(n,)]
        Level of a sine in that bin (mean square 1 is 0 dB), and the local floor.
    error_db : array [shape=(n,)]
        Standard error of the level from window to window, in dB.
    spread_db : float
        Standard deviation of a noise bin around the floor.
    """

    frequency_hz: FloatArray
    level_db: FloatArray
    error_db: FloatArray
    floor_db: FloatArray
    spread_db: float

    @property
    def excess_db(self) -> FloatArray:
        """How far each bin stands above the floor, in dB."""
        return np.asarray(self.level_db - self.floor_db)


def even_turning(
    samples: Float32Array, rate: float, speed: FloatArray, hop_s: float
) -> EvenTurning:
    """Resample sound to equal steps of the motor's angle, by cubic splines.

    Parameters
    ----------
    samples : array [shape=(n,)]
        Sound.
    rate : float
        Its sample rate in Hz.
    speed : array [shape=(frames,)]
        Motor speed in 1/s at multiples of ``hop_s``.
    hop_s : float
        Step of ``speed`` in seconds.
    """
    count = samples.size
    pace = np.interp(np.arange(count) / rate, np.arange(speed.size) * hop_s, speed)
    turns = np.concatenate([[0.0], np.cumsum((pace[1:] + pace[:-1]) / 2)])
    place = np.interp(np.linspace(0, turns[-1], count), turns, np.arange(count, dtype=float))
    even = map_coordinates(samples, place[None, :], order=3, mode="nearest")
    seconds = (count - 1) / rate
    mean = turns[-1] / rate / seconds
    return EvenTurning(even.astype(np.float32), rate, mean, turns * (seconds / turns[-1]))


def order_spectrum(even: EvenTurning, window_s: float = 0.5) -> OrderSpectrum:
    """Average the power spectra of Hann windows of ``window_s``, half overlapped."""
    sound, rate = even.samples, even.rate
    size = min(int(window_s * rate), sound.size)
    padded = scipy.fft.next_fast_len(2 * size, real=True)
    starts = np.arange(0, sound.size - size + 1, max(1, size // 2))
    window = np.hanning(size).astype(np.float32)
    total = np.zeros(padded // 2 + 1)
    squares = np.zeros_like(total)
    for first in starts:
        bins = np.square(np.abs(scipy.fft.rfft(sound[first : first + size] * window, padded)))
        total += bins
        squares += np.square(bins)
    # one-sided: mean square of a sine at a bin's centre
    power = total / len(starts) * (2 / float(window.sum()) ** 2)
    count = len(starts)
    variance = np.maximum(squares / count - np.square(total / count), 0)
    # half-overlapped Hann windows: about 3/4 of them are independent (Welch 1967)
    relative = np.sqrt(variance / (0.75 * count)) / (total / count + 1e-30)
    frequency = np.arange(power.size) * rate / padded
    level = 10 * np.log10(power + 1e-20)
    floor = _floor(level, frequency)
    below = (level - floor)[frequency > 30]
    below = -below[below < 0]
    # median of a half-normal law is 0.6745 standard deviations
    spread = float(np.median(below)) / 0.6745 if below.size else 1.0
    return OrderSpectrum(frequency, level, 4.343 * relative, floor, max(spread, 0.3))


def _floor(level: FloatArray, frequency: FloatArray) -> FloatArray:
    """Give the running 40 % quantile, wider at high frequencies."""
    step = frequency[1]
    out = np.empty_like(level)
    edges = [0.0, 1000, 2000, 4000, 8000, 1e9]
    for low, high in pairwise(edges):
        index = np.flatnonzero((frequency >= low) & (frequency < high))
        if not index.size:
            continue
        half = int(max(FLOOR_HZ, FLOOR_SHARE * low) / step)
        first, last = max(0, index[0] - half), min(level.size, index[-1] + half + 1)
        smooth = percentile_filter(level[first:last], 40, 2 * half + 1, mode="nearest")
        out[index] = smooth[index - first]
    return out
