"""Peaks of a recording for drawing it, made once; they can be made again at any time."""

import json
from collections.abc import Iterable

import numpy as np

from outshop.media.sound import SoundBlock, open_sound
from outshop.records import store, thumbnails

COLUMNS = 1000  # more cannot be told apart on a screen


def peaks_of(sha256: str) -> list[float]:
    """Give the highest amplitude of each of ``COLUMNS`` equal stretches, the loudest being 1.

    Raises
    ------
    MediaError
        The file cannot be decoded.
    """
    path = thumbnails.place(sha256, "peaks.json")
    if path.is_file():
        kept: list[float] = json.loads(path.read_bytes())
        return kept
    original = store.path_of(sha256)
    store.size_of(original)  # says in a sentence when it is gone
    with open_sound(original) as stream:
        peaks = _peaks(stream, max(stream.head.sample_rate_hz // 100, 1))
    thumbnails.write_to(path, json.dumps(peaks).encode())
    return peaks


def _peaks(blocks: Iterable[SoundBlock], step: int) -> list[float]:
    """Take one peak every ``step`` samples, then as many as columns."""
    short: list[np.ndarray] = []
    rest = np.empty(0, np.float32)
    for block in blocks:
        samples = np.abs(np.concatenate([rest, block.samples]))
        whole = len(samples) // step * step
        short.append(samples[:whole].reshape(-1, step).max(axis=1))
        rest = samples[whole:]
    if rest.size:
        short.append(rest.max(keepdims=True))
    fine = np.concatenate(short) if short else np.zeros(1, np.float32)
    edges = np.unique(np.linspace(0, len(fine), min(COLUMNS, len(fine)) + 1).astype(int))
    coarse = np.maximum.reduceat(fine, edges[:-1])
    top = float(coarse.max()) or 1.0
    return [round(float(x) / top, 3) for x in coarse]
