"""The samples of a running stretch that are worth tracking, and where its speed is steady."""

from dataclasses import dataclass

import numpy as np
from scipy.ndimage import uniform_filter1d

from outshop.bench.sound.digest import Digest, Excerpt, Float32Array
from outshop.bench.sound.filters import slower
from outshop.bench.sound.runs import Run
from outshop.bench.sound.weighting import FloatArray

MOST_S = 60.0  # tracked of one run; longer runs are sampled by pieces; ours, bounds the time
PIECES = 5  # pieces that stand for a long run; ours
SHORTEST_S = 1.0  # shorter stretches hold too few wheel turns; ours
NEARLY, MOVING = 0.96, 0.6  # shares of the speed to come, and of the median; ours
SUPPORTED, SUPPORT_S, EDGE_S = 0.72, 0.15, 2.0  # share of the median, smoothing, reach; ours
AHEAD_S, SMOOTH_S = 1.5, 0.4  # how far "to come" reaches; hides single wheel turns; ours


@dataclass(frozen=True)
class Stretch:
    """Samples of one run, end to end.

    Parameters
    ----------
    run : Run
        The run.
    pieces : tuple of (float, float)
        Begin and end of each piece in the recording, in seconds.
    samples : array [shape=(n,)]
        All pieces joined, at ``rate``.
    rate : float
        Sample rate in Hz, reduced.
    """

    run: Run
    pieces: tuple[tuple[float, float], ...]
    samples: Float32Array
    rate: float

    def times(self, hop_s: float, count: int) -> FloatArray:
        """Give the moments in the recording of ``count`` frames ``hop_s`` apart."""
        inner = np.arange(count) * hop_s
        lengths = np.array([b - a for a, b in self.pieces])
        begins = np.concatenate([[0.0], np.cumsum(lengths)[:-1]])
        which = np.clip(np.searchsorted(begins, inner, "right") - 1, 0, len(begins) - 1)
        starts = np.array([a for a, _ in self.pieces])
        return np.asarray(starts[which] + inner - begins[which])


def reduced(samples: Float32Array, rate: float) -> tuple[Float32Array, float]:
    """Halve the sample rate while it stays at 22 kHz or more; motor tones lie below 10 kHz."""
    while rate >= 44_000:
        samples = slower(samples, 2)
        rate /= 2
    return samples, rate


def stretches(digest: Digest, runs: tuple[Run, ...], state: str = "running") -> list[Stretch]:
    """Take the samples of each run out of what was kept, at most a minute of each."""
    out = []
    for run in runs:
        if run.state != state:
            continue
        spans = [
            (max(run.start_s, e.start_s), min(run.end_s, e.start_s + e.duration_s(digest.rate)), e)
            for e in digest.excerpts
        ]
        spans = [(a, b, e) for a, b, e in spans if b - a >= SHORTEST_S / 2]
        chosen = _at_most(spans)
        if sum(b - a for a, b, _ in chosen) < SHORTEST_S:
            continue
        parts = [
            e.samples[int((a - e.start_s) * digest.rate) : int((b - e.start_s) * digest.rate)]
            for a, b, e in chosen
        ]
        samples, rate = reduced(np.concatenate(parts), digest.rate)
        out.append(Stretch(run, tuple((a, b) for a, b, _ in chosen), samples, rate))
    return out


Span = tuple[float, float, Excerpt]


def _at_most(spans: list[Span]) -> list[Span]:
    """Keep everything, or pieces spread evenly over the run if it is long."""
    total = sum(b - a for a, b, _ in spans)
    if total <= MOST_S:
        return spans
    if len(spans) == 1:
        start, end, excerpt = spans[0]
        length = MOST_S / PIECES
        begins = np.linspace(start, end - length, PIECES)
        return [(float(b), float(b + length), excerpt) for b in begins]
    wanted = max(1, int(MOST_S / (total / len(spans))))
    picks = np.unique(np.round(np.linspace(0, len(spans) - 1, wanted)).astype(int))
    return [(a, min(b, a + MOST_S / len(picks)), e) for a, b, e in (spans[i] for i in picks)]


def steady_frames(speed: FloatArray, hop_s: float) -> slice:
    """Find where a speed path has left its start and not begun its stop.

    Parameters
    ----------
    speed : array [shape=(frames,)]
        Speed in 1/s every ``hop_s`` seconds.
    hop_s : float
        Seconds.

    Returns
    -------
    slice
        Frames between the first and the last moment that reach 96 % of the median of the
        1.5 s to come (or gone by) and 60 % of the median of all.
    """
    slow = uniform_filter1d(speed, max(1, round(SMOOTH_S / hop_s)), mode="nearest")
    first = _reached(slow, hop_s)
    last = speed.size - _reached(slow[::-1], hop_s)
    return slice(first, last) if last - first > 0.3 * speed.size else slice(0, speed.size)


def supported(steady: slice, support: FloatArray, hop_s: float) -> slice:
    """Narrow steady frames to where the path rests on tones, not on a start or stop unseen.

    Parameters
    ----------
    steady : slice
        From :func:`steady_frames`.
    support : array [shape=(frames,)]
        Evidence along the path.
    hop_s : float
        Seconds.

    Returns
    -------
    slice
        Without what lies outside the last frames within 2 s of either end whose evidence,
        smoothed, is less than 72 % of the median.
    """
    inner = uniform_filter1d(support[steady], max(1, round(SUPPORT_S / hop_s)), mode="nearest")
    weak = inner < SUPPORTED * float(np.median(inner))
    reach = min(round(EDGE_S / hop_s), inner.size // 4)
    first = np.flatnonzero(weak[:reach])
    last = np.flatnonzero(weak[::-1][:reach])
    cut = [int(found[-1]) + 1 if found.size else 0 for found in (first, last)]
    return slice(steady.start + cut[0], steady.stop - cut[1])


def _reached(slow: FloatArray, hop_s: float) -> int:
    ahead = round(AHEAD_S / hop_s)
    median = float(np.median(slow))
    for i in range(slow.size // 2):
        to_come = float(np.median(slow[i : i + ahead]))
        if slow[i] >= NEARLY * to_come and slow[i] >= MOVING * median:
            return i
    return 0
