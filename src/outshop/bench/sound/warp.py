"""Angular resampling: the sound as if the motor had turned evenly, and its order spectrum."""

from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
import scipy.fft
from scipy.ndimage import percentile_filter, spline_filter1d

from outshop.bench.sound.digest import Float32Array
from outshop.bench.sound.filters import highpassed
from outshop.bench.sound.weighting import FloatArray

HIGHPASS_HZ = 150.0  # keeps rumble out of the loudness over a turn; ours
CHUNK = 1 << 14  # samples resampled at a time: they stay in the processor's cache
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
    turned_s : array [shape=(frames,)]
        Time at the mean speed, in s, that has passed at each frame of the *real* speed.
    """

    samples: Float32Array
    rate: float
    mean_speed: float
    turned_s: FloatArray

    @cached_property
    def square_sums(self) -> FloatArray:
        """Running sum of the squares above ``HIGHPASS_HZ``, shape (n + 1,), 0 first."""
        square = np.square(highpassed(self.samples, self.rate, HIGHPASS_HZ, 2))
        return np.concatenate([[0.0], np.cumsum(square, dtype=float)])


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


def spline_of(samples: Float32Array) -> Float32Array:
    """Give the cubic B-spline through samples, as its coefficients, shape (n,)."""
    return np.asarray(spline_filter1d(samples, 3, output=np.float32, mode="mirror"))


def even_turning(
    samples: Float32Array,
    rate: float,
    speed: FloatArray,
    hop_s: float,
    spline: Float32Array | None = None,
) -> EvenTurning:
    """Resample sound to equal steps of the motor's angle, by cubic splines.

    Parameters
    ----------
    samples : array [shape=(n,)]
        Sound.
    rate : float
        Its sample rate in Hz.
    speed : array [shape=(frames,)]
        Motor speed in 1/s at multiples of ``hop_s``, straight in between.
    hop_s : float
        Step of ``speed`` in seconds.
    spline : array [shape=(n,)], optional
        :func:`spline_of` the sound, if it is at hand.
    """
    seconds = (samples.size - 1) / rate
    frames = np.arange(speed.size) * hop_s
    knots = np.append(frames[frames < seconds], seconds)
    pace = np.interp(knots, frames, speed)
    gains = (pace[1:] + pace[:-1]) / 2 * np.diff(knots)
    turns = np.concatenate([[0.0], np.cumsum(gains)])
    even = _at_equal_angles(
        spline_of(samples) if spline is None else spline, rate, knots, pace, turns
    )
    turned = np.interp(frames, knots, turns * (seconds / turns[-1]))
    return EvenTurning(even, rate, float(turns[-1]) / seconds, turned)


def _at_equal_angles(
    spline: Float32Array, rate: float, knots: FloatArray, pace: FloatArray, turns: FloatArray
) -> Float32Array:
    """Evaluate a spline where equal angles have been turned, as often as it has samples."""
    count = spline.size
    step = turns[-1] / (count - 1)
    bend = np.diff(pace) / np.diff(knots)
    ends = np.minimum(np.ceil(turns[1:] / step).astype(int), count)
    ends[-1] = count
    piece = np.repeat(np.arange(bend.size, dtype=np.int32), np.diff(ends, prepend=0))
    padded = np.concatenate([spline[1:2], spline, spline[[-2, -3]]])  # mirrored
    out = np.empty(count, np.float32)
    for first in range(0, count, CHUNK):
        j = piece[first : first + CHUNK]
        # angle since the knot = pace·t + bend·t²/2, solved for t
        angle = np.arange(first, first + j.size) * step - turns[j]
        slow = pace[j]
        moment = 2 * angle / (slow + np.sqrt(slow * slow + 2 * bend[j] * angle))
        place = np.clip((moment + knots[j]) * rate, 0, count - 1)
        out[first : first + j.size] = _cubic(padded, place)
    return out


def _cubic(padded: Float32Array, place: FloatArray) -> Float32Array:
    """Sum the four cubic B-splines around each place; ``padded`` starts one sample early."""
    below = place.astype(np.int32)
    share = (place - below).astype(np.float32)
    rest = 1 - share
    sixth, two_thirds, half = np.float32(1 / 6), np.float32(2 / 3), np.float32(0.5)
    total = padded[below] * (rest * rest * rest * sixth)
    total += padded[below + 1] * (two_thirds - share * share * (1 - half * share))
    total += padded[below + 2] * (two_thirds - rest * rest * (1 - half * rest))
    total += padded[below + 3] * (share * share * share * sixth)
    return total


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
