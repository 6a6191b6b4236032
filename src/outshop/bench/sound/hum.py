"""Mains hum: tones at multiples of 50 or 60 Hz that do not move, found and taken off."""

from dataclasses import dataclass

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from outshop.bench.sound.digest import Float32Array

MAINS_HZ = (50.0, 60.0)  # IEC 60038: the two nominal frequencies
DEVIATION = 0.002  # EN 50160: 50 Hz ± 1 % at worst, ± 0.1 % nearly always; ours in between
HIGHEST_HZ = 1200.0  # hum beyond this is buried; ours
LEAST_DB = 14.0  # above its surroundings; noise peaks reach 10 dB; ours
LEAST_S = 1.5  # shorter stretches cannot tell hum from a motor tone; ours


@dataclass(frozen=True, slots=True)
class Tone:
    """A steady tone: frequency in Hz, level in dB (mean square 1 is 0 dB), excess in dB."""

    frequency_hz: float
    level_db: float
    prominence_db: float


def find_hum(samples: Float32Array, rate: float) -> tuple[Tone, ...]:
    """Find hum in a stretch of sound.

    A tone counts as hum if it lies on a multiple of 50 or 60 Hz and is as narrow as the
    stretch's length allows; a motor that turns evenly just there would be mistaken.

    Parameters
    ----------
    samples : array [shape=(n,)]
        Sound.
    rate : float
        Sample rate in Hz.
    """
    count = samples.size
    if count < LEAST_S * rate:
        return ()
    window = np.hanning(count).astype(np.float32)
    padded = scipy.fft.next_fast_len(2 * count, real=True)
    power = np.square(np.abs(scipy.fft.rfft(samples * window, padded)))
    power *= 2 / float(window.sum()) ** 2
    step = rate / padded
    found: dict[float, Tone] = {}
    for base in MAINS_HZ:
        family = _family(power, step, rate / count, base)
        if base in family or 2 * base in family:  # the fundamental, or rectified
            found |= family
    return tuple(found[f] for f in sorted(found))


def _family(
    power: NDArray[np.float64], step: float, resolution: float, base: float
) -> dict[float, Tone]:
    """Find the steady tones at multiples of one mains frequency, by multiple."""
    found = {}
    for k in range(1, int(HIGHEST_HZ / base) + 1):
        frequency = base * k
        reach = max(DEVIATION * frequency / 2, 0.15, 1.5 * resolution)
        first, last = int((frequency - reach) / step), int((frequency + reach) / step) + 1
        around = power[max(0, int((frequency - 12) / step)) : int((frequency + 12) / step)]
        if last >= power.size or around.size == 0:
            continue
        peak = first + int(power[first : last + 1].argmax())
        floor = float(np.median(around)) + 1e-20
        excess = 10 * np.log10(power[peak] / floor + 1e-20)
        if excess < LEAST_DB or not _narrow(power, peak, 6 * resolution / step):
            continue
        place = peak + _parabola(power, peak)
        level = 10 * np.log10(power[peak] + 1e-20)
        found[frequency] = Tone(float(place * step), float(level), float(excess))
    return found


def without_tones(samples: Float32Array, rate: float, tones: tuple[Tone, ...]) -> Float32Array:
    """Subtract steady tones, amplitude and phase fitted over the whole stretch."""
    if not tones:
        return samples
    moment = np.arange(samples.size) / rate
    window = np.hanning(samples.size)
    window /= window.sum()
    rest = samples.astype(float)
    for tone in tones:
        turning = np.exp(-2j * np.pi * tone.frequency_hz * moment)
        amplitude = 2 * np.sum(rest * window * turning)
        rest -= (amplitude * turning.conj()).real
    return rest.astype(np.float32)


def _narrow(power: NDArray[np.float64], peak: int, width: float) -> bool:
    """Whether most of the energy within ± 3 widths lies within one."""
    inner, outer = int(np.ceil(width / 2)), int(np.ceil(3 * width))
    near = power[max(0, peak - inner) : peak + inner + 1].sum()
    around = power[max(0, peak - outer) : peak + outer + 1].sum()
    return bool(near > 0.7 * around)


def _parabola(power: NDArray[np.float64], peak: int) -> float:
    """Offset of the true maximum from the largest bin, by a parabola through log power."""
    if not 0 < peak < power.size - 1:
        return 0.0
    left, mid, right = np.log(power[peak - 1 : peak + 2] + 1e-30)
    bend = left - 2 * mid + right
    return float(np.clip((left - right) / (2 * bend), -0.5, 0.5)) if bend < 0 else 0.0
