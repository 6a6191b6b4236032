"""Picture of a recording's spectrogram, made once; it can be made again at any time."""

from dataclasses import replace
from pathlib import Path

import numpy as np

from outshop.records import store, thumbnails

ROWS, COLUMNS = 400, 1000  # sharp at the width of a page
HIGHEST_HZ = 8000.0  # motors, gears and squeal lie below; ours
LOUD_SHARE = 99.5  # percent: one bang must not make all the rest pale; ours


def path_of(sha256: str) -> Path:
    """Give the PNG of a kept recording; make it when it is not there.

    Raises
    ------
    MediaError
        The file cannot be decoded.
    """
    path = thumbnails.place(sha256, "spectrogram.png")
    if not path.is_file():
        thumbnails.write_to(path, _drawn(store.path_of(sha256)))
    return path


def limits_hz(sample_rate_hz: float) -> tuple[float, float]:
    """Give the lowest and highest frequency of the picture, on a log axis."""
    from outshop.bench.sound.pictures import LOWEST_HZ

    return LOWEST_HZ, float(_shown(LOWEST_HZ, 0.45 * sample_rate_hz)[-1])


def _shown(lowest: float, highest: float) -> np.ndarray:
    """Frequencies of the rows that are kept."""
    frequency = lowest * (highest / lowest) ** (np.arange(ROWS) / (ROWS - 1))
    return np.asarray(frequency[frequency <= max(HIGHEST_HZ, frequency[1])])


def _drawn(original: Path) -> bytes:
    from outshop.bench.sound.digest import Digester
    from outshop.bench.sound.pictures import as_png, spectrogram
    from outshop.media.sound import open_sound

    store.size_of(original)  # says in a sentence when it is gone
    with open_sound(original) as stream:
        digester = Digester(stream.head.sample_rate_hz)
        for block in stream:
            digester.feed(block.samples, block.clipped)
    whole = spectrogram(digester.finish(), COLUMNS, ROWS)
    rows = _shown(whole.lowest_hz, whole.highest_hz)
    level = whole.level_db[:, : rows.size]
    if np.isfinite(level).any():
        level = level - np.nanpercentile(level, LOUD_SHARE)
    return as_png(replace(whole, level_db=level, highest_hz=float(rows[-1])))
