"""Sudden sounds in a clip: the click of a switch or a reversing unit, or the drive's first hum."""

from collections import deque
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.signal import butter, sosfilt

from outshop.errors import MediaError
from outshop.media.limits import DEFAULT, Limits
from outshop.media.sound import open_sound

Floats = NDArray[np.float64]
_BAND_HZ = (1500.0, 9000.0)  # clicks are bright, rooms and mains hum are not (our choice)
_HOP_S = 0.001
_BEFORE_S, _GUARD_S = 0.12, 0.004  # what a sound is compared with: the time before it
_RISE_DB = 12.0  # our choice: clearly heard
_SURE = 7.0  # deviations of the usual unrest
_FALL_DB, _FALL_S = 6.0, 0.15  # a click is over by then
_APART_S = 0.08  # nearer ones are one sound with its echoes
_STARTS_AT = 0.25  # share of the rise at which the sound has come


@dataclass(frozen=True, slots=True)
class Onset:
    """A sudden sound.

    Parameters
    ----------
    t_s : float
        When, on the clip's clock.
    rise_db : float
        How far it stands above the time before it, 1.5 to 9 kHz.
    lasting : bool
        It goes on, as a motor does; a click is over at once.
    """

    t_s: float
    rise_db: float
    lasting: bool


def onsets_in(
    path: Path | str, from_s: float, to_s: float, limits: Limits = DEFAULT
) -> list[Onset]:
    """Find sudden sounds of a clip between two moments; none when it has no sound track."""
    try:
        with open_sound(path, limits) as stream:
            rate, begins = stream.head.sample_rate_hz, stream.head.start_s
            first = max(0, round((from_s - begins - 0.5) * rate))
            last = round((to_s - begins + 0.5) * rate)
            kept: deque[NDArray[np.float32]] = deque()
            at = origin = 0
            for block in stream:
                if at + len(block.samples) > first:
                    origin = origin if kept else at
                    kept.append(block.samples.copy())
                at += len(block.samples)
                if at > last:
                    break
    except MediaError:
        return []  # a clip without sound is a clip all the same
    if not kept:
        return []
    found = onsets(np.concatenate(kept), rate)
    moved = [Onset(o.t_s + begins + origin / rate, o.rise_db, o.lasting) for o in found]
    return [o for o in moved if from_s <= o.t_s <= to_s]


def onsets(samples: NDArray[np.float32], rate_hz: int) -> list[Onset]:
    """Find sudden sounds.

    Parameters
    ----------
    samples : ndarray [shape=(n,)]
        Mono sound.
    rate_hz : int
        Samples a second.

    Returns
    -------
    list of Onset
        In order of time; the first sample is at 0 s.
    """
    hop = max(1, round(_HOP_S * rate_hz))
    level = _level(np.asarray(samples, dtype=np.float64), rate_hz, hop)
    before, guard = round(_BEFORE_S / _HOP_S), round(_GUARD_S / _HOP_S)
    if len(level) < 2 * before:
        return []
    usual = _running_median(level, before, guard)
    rise = level - usual
    unrest = 1.4826 * float(np.median(np.abs(rise - np.median(rise))))
    least = max(_RISE_DB, _SURE * unrest)
    found: list[Onset] = []
    at = before
    fall, near = round(_FALL_S / _HOP_S), round(0.02 / _HOP_S)
    while at < len(rise):
        if rise[at] < least:
            at += 1
            continue
        top = at + int(np.argmax(level[at : at + near]))
        begins = _begin(level, top, float(usual[at]))
        height = float(level[top] - usual[at])
        later = float(np.median(level[top + fall // 2 : top + fall])) if top + fall < len(level) \
            else -np.inf  # fmt: skip
        lasting = later > usual[at] + max(_FALL_DB, height - 2 * _FALL_DB)
        found.append(Onset(begins * hop / rate_hz, height, lasting))
        at = top + round(_APART_S / _HOP_S)
        if lasting:
            at = top + before + guard
    return found


def _level(samples: Floats, rate_hz: int, hop: int) -> Floats:
    """Level in dB of each hop of samples, in the band of clicks."""
    high = min(_BAND_HZ[1], 0.45 * rate_hz)
    low = min(_BAND_HZ[0], 0.5 * high)
    band = sosfilt(butter(2, [low, high], "bandpass", fs=rate_hz, output="sos"), samples)
    count = len(band) // hop
    power = (band[: count * hop].reshape(count, hop) ** 2).mean(axis=1)
    floor = max(1e-12, 1e-3 * float(np.median(power)))
    level: Floats = 10 * np.log10(power + floor)
    return level


def _running_median(level: Floats, before: int, guard: int) -> Floats:
    """Median of the time before each moment, the last few milliseconds left out."""
    padded = np.concatenate([np.full(before + guard, np.median(level[:before])), level])
    windows = np.lib.stride_tricks.sliding_window_view(padded, before)[: len(level)]
    usual: Floats = np.median(windows, axis=1)
    return usual


def _begin(level: Floats, top: int, usual: float) -> float:
    """Hop in which the sound has risen by a quarter of its height, counted in dB."""
    line = usual + _STARTS_AT * (level[top] - usual)
    at = top
    while at > 0 and level[at - 1] > line:
        at -= 1
    return float(at)
