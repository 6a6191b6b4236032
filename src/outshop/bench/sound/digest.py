"""One pass over the samples: what is kept of a recording of any length.

The pass weighs with the exact A curve by overlapping Fourier blocks, keeps short-time
energies and a coarse spectrogram, and sets aside excerpts of the samples themselves: all of
a short recording, evenly spread pieces of a long one, so memory stays bounded.
"""

from dataclasses import dataclass, field

import numpy as np
import scipy.fft
from numpy.typing import NDArray

from outshop.bench.sound.weighting import (
    FloatArray,
    a_weighting_gain,
    third_octave_midbands,
    third_octave_power_gain,
)

Float32Array = NDArray[np.float32]

SLOT_S = 0.01  # level resolution; ours: a tenth of the 0.15 s wanted for starts and stops
FRAME_S = 0.02  # coarse spectrogram; ours
MARGIN_S = 0.15  # longer than the A curve's ring (20.6 Hz double pole: 8 ms)
PIECE_S = 4.0  # one excerpt; ours
MOST_PIECES = 64  # 64 × 4 s = 256 s kept at most; ours, bounds memory
BAND_EDGES_HZ = (60.0, 200.0, 400.0, 800.0, 1600.0, 3200.0, 6400.0, 12800.0)  # ours


@dataclass(frozen=True)
class Excerpt:
    """A stretch of the recording's own samples."""

    start_s: float
    samples: Float32Array  # [shape=(n,)], full scale 1

    def duration_s(self, rate: float) -> float:
        """Give its length in seconds."""
        return self.samples.size / rate


@dataclass(frozen=True)
class Digest:
    """What one pass leaves of a recording.

    Parameters
    ----------
    rate : float
        Sample rate in Hz.
    duration_s : float
        Length in seconds.
    slot_s : float
        Length of a level slot in seconds (about 10 ms, whole samples).
    power_a, peak_a : array [shape=(slots,)]
        Mean A-weighted square and largest A-weighted magnitude of each slot, full scale 1.
    power : array [shape=(slots,)]
        Mean square without weighting.
    frame_s : float
        Length of a spectrogram frame in seconds.
    bands : array [shape=(frames, 7)]
        Power in the bands between ``BAND_EDGES_HZ``.
    block_s : float
        Distance of third-octave blocks in seconds.
    thirds : array [shape=(blocks, midbands)]
        Power of each third octave, shaped filters.
    midbands_hz : array [shape=(midbands,)]
        Their exact midbands.
    excerpts : tuple of Excerpt
        Stretches kept, in order, not overlapping.
    clipped_share : float
        Share of samples at full scale.
    """

    rate: float
    duration_s: float
    slot_s: float
    power_a: FloatArray
    peak_a: FloatArray
    power: FloatArray
    frame_s: float
    bands: FloatArray
    block_s: float
    thirds: FloatArray
    midbands_hz: FloatArray
    excerpts: tuple[Excerpt, ...]
    clipped_share: float


@dataclass
class Digester:
    """Takes samples in pieces of any length and gives a :class:`Digest` in the end.

    Parameters
    ----------
    rate : float
        Sample rate in Hz.
    """

    rate: float
    _pending: list[Float32Array] = field(default_factory=list)
    _pending_size: int = 0
    _total: int = 0
    _clipped: int = 0

    def __post_init__(self) -> None:
        self._slot = max(1, round(self.rate * SLOT_S))
        self._frame = 2 * self._slot
        self._block = 1 << int(np.ceil(np.log2(self.rate * 1.3)))
        margin = int(np.ceil(self.rate * MARGIN_S / self._frame)) * self._frame
        self._hop = (self._block - 2 * margin) // self._frame * self._frame
        self._margin = margin
        frequency = scipy.fft.rfftfreq(self._block, 1 / self.rate)
        self._gain = a_weighting_gain(frequency).astype(np.float32)
        self._midbands = third_octave_midbands(25, min(20_000, self.rate / 2.3))
        self._thirds = _third_matrix(frequency, self._midbands)
        hann2 = np.square(np.hanning(self._block))
        self._coverage = np.concatenate([[0.0], np.cumsum(hann2 / hann2.sum())])
        edges = np.array(BAND_EDGES_HZ) * self._frame / self.rate
        self._edges = np.clip(np.round(edges).astype(int), 0, self._frame // 2)
        self._window = np.hanning(self._frame).astype(np.float32)
        self._parts: list[tuple[FloatArray, ...]] = []
        self._pieces = _Pieces(int(self.rate * PIECE_S))
        self._push(np.zeros(margin, np.float32))

    def feed(self, samples: Float32Array, clipped: int = 0) -> None:
        """Take the next samples, shape (n,), full scale 1, and how many of them clipped."""
        self._total += samples.size
        self._clipped += clipped
        self._pieces.feed(samples)
        self._push(samples)
        while self._pending_size >= self._block:
            self._digest_block()

    def finish(self) -> Digest:
        """Digest the rest and give the result."""
        slots_wanted = self._total // self._slot
        frames_wanted = self._total // self._frame
        blocks = max(1, self._total // self._hop)
        while len(self._parts) * self._hop < self._total:
            self._push(np.zeros(max(0, self._block - self._pending_size), np.float32))
            self._digest_block()
        columns = [np.concatenate(column) for column in zip(*self._parts, strict=True)]
        if not columns:
            columns = [np.zeros(0)] * 3 + [np.zeros((0, len(BAND_EDGES_HZ) - 1))]
            columns.append(np.zeros((0, self._midbands.size)))
        self._parts = []  # not twice in memory
        power_a, peak_a, power, bands, thirds = columns
        return Digest(
            rate=self.rate,
            duration_s=self._total / self.rate,
            slot_s=self._slot / self.rate,
            power_a=power_a[:slots_wanted],
            peak_a=peak_a[:slots_wanted],
            power=power[:slots_wanted],
            frame_s=self._frame / self.rate,
            bands=bands[:frames_wanted],
            block_s=self._hop / self.rate,
            thirds=thirds[:blocks],
            midbands_hz=self._midbands,
            excerpts=self._pieces.excerpts(self.rate),
            clipped_share=self._clipped / self._total if self._total else 0.0,
        )

    def _push(self, samples: Float32Array) -> None:
        self._pending.append(samples)
        self._pending_size += samples.size

    def _digest_block(self) -> None:
        buffer = np.concatenate(self._pending)
        block = buffer[: self._block]
        self._pending = [buffer[self._hop :]]
        self._pending_size = buffer.size - self._hop
        spectrum = scipy.fft.rfft(block)
        weighted = scipy.fft.irfft(spectrum * self._gain, self._block)
        middle = slice(self._margin, self._margin + self._hop)
        power_a, peak_a = _slots(weighted[middle], self._slot)
        power, _ = _slots(block[middle], self._slot)
        frames = block[middle].reshape(-1, self._frame) * self._window
        short = np.square(np.abs(scipy.fft.rfft(frames, axis=1)))
        total = np.concatenate([np.zeros((len(short), 1)), np.cumsum(short, 1)], 1)
        bands = np.diff(total[:, self._edges], axis=1) / self._frame**2
        thirds = self._thirds @ _hann_power(spectrum) / self._covered()
        self._parts.append((power_a, peak_a, power, bands, thirds[None, :]))

    def _covered(self) -> float:
        """Share of the Hann window that lies on true samples, not on padding."""
        start = len(self._parts) * self._hop - self._margin
        first, last = max(0, -start), min(self._block, self._total - start)
        return float(max(self._coverage[max(first, last)] - self._coverage[first], 1e-3))


class _Pieces:
    """Keeps all pieces of a short recording, every 2nd, 4th, ... of a long one."""

    def __init__(self, size: int) -> None:
        self._size, self._stride, self._index = size, 1, 0
        self._open: list[Float32Array] = []
        self._open_size = 0
        self._kept: dict[int, Float32Array] = {}

    def feed(self, samples: Float32Array) -> None:
        while samples.size:
            part = samples[: self._size - self._open_size]
            samples = samples[part.size :]
            if self._index % self._stride == 0:
                self._open.append(part)
            self._open_size += part.size
            if self._open_size == self._size:
                self._close()

    def _close(self) -> None:
        if self._open:
            self._kept[self._index] = np.concatenate(self._open)
        if len(self._kept) > MOST_PIECES:
            self._stride *= 2
            self._kept = {i: x for i, x in self._kept.items() if i % self._stride == 0}
        self._open, self._open_size, self._index = [], 0, self._index + 1

    def excerpts(self, rate: float) -> tuple[Excerpt, ...]:
        if self._open:
            self._close()
        joined: list[tuple[int, list[Float32Array]]] = []
        for index, piece in self._kept.items():
            if joined and index == joined[-1][0] + len(joined[-1][1]):
                joined[-1][1].append(piece)
            else:
                joined.append((index, [piece]))
        self._kept = {}  # the pieces live on in the excerpts only
        return tuple(
            Excerpt(i * self._size / rate, p[0] if len(p) == 1 else np.concatenate(p))
            for i, p in joined
        )


def _slots(samples: Float32Array, size: int) -> tuple[FloatArray, FloatArray]:
    table = samples.reshape(-1, size)
    power = np.einsum("ij,ij->i", table, table, dtype=np.float64) / size
    return power, np.abs(table).max(axis=1).astype(float)


def _hann_power(spectrum: NDArray[np.complex64]) -> FloatArray:
    """Power of each bin as if the block had been under a Hann window, summing to mean square."""
    smooth = spectrum / 2
    smooth[1:-1] -= (spectrum[:-2] + spectrum[2:]) / 4
    size = 2 * (spectrum.size - 1)
    # one-sided, and Hann's mean square is 3/8
    return np.asarray(np.square(np.abs(smooth), dtype=np.float64) * (2 / size**2 / 0.375))


def _third_matrix(frequency: FloatArray, midbands: FloatArray) -> FloatArray:
    return np.array([third_octave_power_gain(frequency, m) for m in midbands])
