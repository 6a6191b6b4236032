"""Without a drive: families of tones, rates of change, and what each could be."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from outshop.bench.sound.drive import Drive, commutation_order
from outshop.bench.sound.evidence import Lines, lay_lines, peaks
from outshop.bench.sound.hum import find_hum, without_tones
from outshop.bench.sound.refine import refine
from outshop.bench.sound.spectrum import LogAxis, whitened
from outshop.bench.sound.stretch import Stretch, steady_frames
from outshop.bench.sound.track import best_path, harmonic_sum, spot_evidence
from outshop.bench.sound.warp import OrderSpectrum, even_turning, order_spectrum

HOP_S = 0.01  # as for a known drive
HARMONICS = np.arange(1.0, 7.0)
FADING = 0.85 ** (HARMONICS - 1)  # higher harmonics are heard less often; ours
LOWEST_HZ, HIGHEST_HZ = 40.0, 2500.0  # of a family's first tone; ours
MOST_FAMILIES, LEAST_TONES, LEAST_SHARE = 4, 3, 0.6  # ours
RATES_HZ = (0.4, 30.0)  # wheels and rods turn in this range; ours
LEAST_RATE_DB = 9.0  # above the surroundings; ours, noise peaks reach 7 dB in such spectra
USUAL_POLES = (3, 5, 7)
EXAMPLE = (87.0, 16.0)  # 1:87 and a 16 mm wheel, when neither is known: an example, no more


@dataclass(frozen=True, slots=True)
class Family:
    """Tones at whole multiples of one frequency.

    Parameters
    ----------
    frequency_hz : float
        Of the first, at mean speed.
    tones : int
        How many of the first six stand out.
    prominence_db : float
        Of the strongest.
    """

    frequency_hz: float
    tones: int
    prominence_db: float


def find_families(stretch: Stretch) -> tuple[Family, ...]:
    """Find families of harmonics that move together.

    The strongest family is tracked as a motor would be, with orders 1 to 6; the sound is turned
    even by it; the lines that remain sharp are sorted into families.
    """
    samples = without_tones(stretch.samples, stretch.rate, find_hum(stretch.samples, stretch.rate))
    axis = LogAxis.up_to(0.45 * stretch.rate)
    bases = LogAxis.up_to(HIGHEST_HZ, LOWEST_HZ)
    excess = whitened(samples, stretch.rate, 0.06, HOP_S, axis)
    sums = harmonic_sum(spot_evidence(excess), axis, HARMONICS, FADING, bases)
    states, _ = best_path(sums, 4, 0.3)
    path = LOWEST_HZ * np.exp2(gaussian_filter1d(states, 1.0) / bases.steps_per_octave)
    steady = steady_frames(path, HOP_S)
    path = path[steady]
    first, last = (int(i * HOP_S * stretch.rate) for i in (steady.start, steady.stop))
    samples = samples[first:last]
    path = refine(samples, stretch.rate, path, HOP_S, HARMONICS, FADING)
    spectrum = order_spectrum(even_turning(samples, stretch.rate, path, HOP_S))
    return _sorted(spectrum, lay_lines(spectrum, 0.45 * stretch.rate))


def _sorted(spectrum: OrderSpectrum, lines: Lines) -> tuple[Family, ...]:
    """Group lines: the base that explains most, then the next among what is left."""
    index = peaks(spectrum, lines.threshold_db + 2, LOWEST_HZ, lines.highest_hz)[:40]
    left = spectrum.frequency_hz[index]
    height = spectrum.excess_db[index]
    found: list[Family] = []
    while left.size >= LEAST_TONES and len(found) < MOST_FAMILIES:
        bases = np.unique(np.concatenate([left / k for k in (1, 2, 3)]))
        bases = bases[(bases >= LOWEST_HZ) & (bases <= HIGHEST_HZ)]
        best: tuple[float, float, NDArray[np.bool_]] | None = None
        for base in bases:
            harmonic = np.round(left / base)
            near = np.abs(left - harmonic * base) < 1.0 + 0.002 * left
            member = near & (harmonic >= 1) & (harmonic <= HARMONICS.size)
            in_range = min(HARMONICS.size, int(lines.highest_hz / base))
            tones = np.unique(harmonic[member]).size
            if tones < LEAST_TONES or tones < LEAST_SHARE * in_range:
                continue
            gain = float(height[member].sum()) * tones / in_range
            if best is None or gain > best[0]:
                best = gain, float(base), member
        if best is None:
            break
        _, base, member = best
        tones = int(np.unique(np.round(left[member] / base)).size)
        found.append(Family(base, tones, float(height[member].max())))
        left, height = left[~member], height[~member]
    return tuple(found)


def find_rates(stretch: Stretch) -> tuple[tuple[float, float], ...]:
    """Find rates at which the loudness changes, in 1/s, each with its prominence in dB."""
    slot = int(0.01 * stretch.rate)
    count = stretch.samples.size // slot
    square = np.square(stretch.samples[: count * slot].reshape(count, slot)).mean(1)
    level = np.log(square + 1e-14)
    rate = stretch.rate / slot
    size = min(count, int(8 * rate))
    if size < int(3 * rate):
        return ()
    window = np.hanning(size)
    starts = range(0, count - size + 1, max(1, size // 2))
    total = np.zeros(size + 1)
    for first in starts:
        part = level[first : first + size]
        total += np.square(np.abs(np.fft.rfft((part - part.mean()) * window, 2 * size)))
    frequency = np.arange(total.size) * rate / (2 * size)
    decibel = 10 * np.log10(total + 1e-12)
    found = []
    for i in range(2, total.size - 2):
        if (
            not RATES_HZ[0] <= frequency[i] <= RATES_HZ[1]
            or decibel[i] < decibel[i - 1 : i + 2].max()
        ):
            continue
        around = (frequency > frequency[i] / 2) & (frequency < frequency[i] * 2)
        excess = float(decibel[i] - np.median(decibel[around]))
        if excess >= LEAST_RATE_DB:
            found.append((float(frequency[i]), excess))
    found.sort(key=lambda pair: -pair[1])
    return tuple(found[:4])


def describe(
    families: tuple[Family, ...], rates: tuple[tuple[float, float], ...], drive: Drive | None
) -> tuple[Mapping[str, Any], ...]:
    """Say what each family and rate could be."""
    rows: list[Mapping[str, Any]] = [
        {
            "kind": "tones",
            "frequency_hz": f.frequency_hz,
            "tones": f.tones,
            "prominence_db": f.prominence_db,
            "could_be": _tone_meanings(f.frequency_hz, drive),
        }
        for f in families
    ]
    rows += [
        {
            "kind": "rate",
            "frequency_hz": rate,
            "prominence_db": excess,
            "could_be": [_rate_meaning(rate, drive)],
        }
        for rate, excess in rates
    ]
    return tuple(rows)


def _tone_meanings(frequency: float, drive: Drive | None) -> list[str]:
    poles = (drive.poles,) if drive and drive.poles else USUAL_POLES
    out = [
        f"commutation of a {n}-pole motor at {frequency / commutation_order(n):.1f} turns a second"
        for n in poles
    ]
    out.append(f"a single-start worm on a motor at {frequency:.1f} turns a second")
    out.append(f"a wheel of z teeth on a shaft at {frequency:.1f}/z turns a second")
    return out


def _rate_meaning(rate: float, drive: Drive | None) -> str:
    scale = (drive.scale if drive else None) or EXAMPLE[0]
    wheel = (drive.wheel_diameter_mm if drive else None) or EXAMPLE[1]
    speed = rate * math.pi * wheel / 1000 * scale * 3.6
    return (
        f"if the wheels are {wheel:g} mm and the scale is 1:{scale:g}, this repeats once per "
        f"wheel turn at {speed:.0f} km/h"
    )
