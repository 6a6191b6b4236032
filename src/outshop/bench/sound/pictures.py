"""Arrays and pictures for pages: peaks, spectrogram, order lines over time."""

import io
from dataclasses import dataclass

import numpy as np
import scipy.fft
from numpy.typing import NDArray
from PIL import Image

from outshop.bench.sound.digest import Digest, Float32Array
from outshop.bench.sound.result import SoundBench
from outshop.bench.sound.weighting import FloatArray

RANGE_DB = 60.0  # from white to ink; ours
LOWEST_HZ = 50.0
WINDOW_S = 0.05


@dataclass(frozen=True)
class Spectrogram:
    """Levels over time and log frequency.

    Parameters
    ----------
    level_db : array [shape=(columns, rows)]
        Level in dB against the loudest spot; NaN where nothing was kept.
    lowest_hz, highest_hz : float
        Frequencies of the first and last row.
    duration_s : float
        Time of the last column's end.
    """

    level_db: FloatArray
    lowest_hz: float
    highest_hz: float
    duration_s: float


def peaks(digest: Digest, count: int = 1000) -> tuple[float, ...]:
    """Give the largest A-weighted magnitude of each of ``count`` equal parts, at most 1."""
    if not digest.peak_a.size:
        return ()
    parts = np.array_split(digest.peak_a, min(count, digest.peak_a.size))
    return tuple(round(float(min(p.max(), 1.0)), 4) for p in parts)


def spectrogram(digest: Digest, columns: int = 900, rows: int = 240) -> Spectrogram:
    """Draw the kept samples as a spectrogram on a log frequency axis."""
    size = int(WINDOW_S * digest.rate)
    highest = 0.45 * digest.rate
    frequency = LOWEST_HZ * (highest / LOWEST_HZ) ** (np.arange(rows) / (rows - 1))
    at = np.clip(np.round(frequency * size / digest.rate).astype(int), 1, size // 2)
    out = np.full((columns, rows), np.nan)
    moments = (np.arange(columns) + 0.5) / columns * digest.duration_s
    window = np.hanning(size).astype(np.float32)
    for column, moment in enumerate(moments):
        part = _at(digest, moment, size)
        if part is not None:
            power = np.square(np.abs(scipy.fft.rfft(part * window)))
            out[column] = 10 * np.log10(power[at] + 1e-20)
    if np.isfinite(out).any():
        out -= np.nanmax(out)
    return Spectrogram(out, LOWEST_HZ, highest, digest.duration_s)


def _at(digest: Digest, moment: float, size: int) -> Float32Array | None:
    for excerpt in digest.excerpts:
        first = int((moment - excerpt.start_s) * digest.rate) - size // 2
        if first >= 0 and first + size <= excerpt.samples.size:
            return excerpt.samples[first : first + size]
    return None


def as_png(picture: Spectrogram) -> bytes:
    """Write a spectrogram as a grey PNG, loud is dark, low frequencies at the bottom."""
    share = np.nan_to_num(np.clip(1 + picture.level_db / RANGE_DB, 0, 1), nan=0.0)
    grey: NDArray[np.uint8] = (255 * (1 - share)).astype(np.uint8)
    image = Image.fromarray(np.ascontiguousarray(grey.T[::-1]))
    buffer = io.BytesIO()
    image.save(buffer, "PNG", optimize=True)
    return buffer.getvalue()


def order_lines(bench: SoundBench, most: int = 8) -> list[dict[str, object]]:
    """Give the most prominent named orders as frequencies over time, for drawing over it.

    Parameters
    ----------
    bench : SoundBench
        The result; empty if its motor speed was not found.
    most : int
        How many orders.
    """
    heard = sorted((o for o in bench.orders if o["heard"]), key=lambda o: -o["prominence_db"])
    return [
        {
            "name": o["name"],
            "points": [(p["t_s"], round(p["motor_speed"] * o["order"], 2)) for p in bench.track],
        }
        for o in heard[:most]
    ]
