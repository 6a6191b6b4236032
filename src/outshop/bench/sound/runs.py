"""Still and running: where the recording holds the machine and where only the room."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d

from outshop.bench.sound.digest import Digest
from outshop.bench.sound.weighting import FloatArray

SMOOTH_S = 0.08  # ours: half the 0.15 s wanted for starts and stops
QUIET_S = 0.5  # length of the quietest stretch that stands for the room; ours
# smoothed noise varies by 0.2 to 1.3 dB; hum beats with the frames in the low bands; simulations
LEAST_SPREAD_DB = np.array([3.5, 2.5, 1.0, 0.8, 0.65, 0.65, 0.65])
SWITCH_NATS = 15.0  # cost of a change of state; ours, tuned on simulations
SHORTEST_S = 0.25  # shorter stretches are joined to their neighbours; ours
LEAST_RISE_DB = 1.5  # a run must stand this much above the room; ours
BOWL_S, BOWL_DB = 0.16, 0.6  # ours: echo has died away after 0.16 s, noise varies by 0.3 dB
LAP_DB = 12.0  # no lap makes the level rise more than this over its far side; ours
EVEN = 0.1  # laps differ by less; stops of a programme by more; ours
SILENCE_DB = -95.0  # below this the recording is silent: 16-bit rounding noise is -98 dB


@dataclass(frozen=True, slots=True)
class Run:
    """A stretch of the recording; ``state`` is ``running`` or ``still``."""

    start_s: float
    end_s: float
    state: str

    @property
    def duration_s(self) -> float:
        """Length in seconds."""
        return self.end_s - self.start_s

    def as_json(self) -> dict[str, float | str]:
        """Give the contract's JSON shape."""
        return {
            "start_s": round(self.start_s, 3),
            "end_s": round(self.end_s, 3),
            "state": self.state,
        }


def find_runs(digest: Digest) -> tuple[Run, ...]:
    """Split a recording into still and running stretches.

    The quietest half second stands for the room. Each frame's band levels are compared with it
    (likelihood ratio against any higher level), and the most likely sequence of the two states
    follows by dynamic programming. If the level does not jump at the changes but creeps, as when
    a model runs past the phone in laps, it was one state throughout.

    Parameters
    ----------
    digest : Digest
        The recording.

    Returns
    -------
    tuple of Run
        In order, without gaps, covering the whole recording; one only if nothing changes.
    """
    end = digest.duration_s
    level = _decibel(uniform_filter1d(digest.bands.sum(1), 3)) if len(digest.bands) else np.zeros(0)
    if level.size == 0 or _decibel(digest.power.max(initial=0)) < SILENCE_DB:
        return (Run(0.0, end, "still"),)
    if end < 4 * QUIET_S:
        return (Run(0.0, end, "running"),)
    width = max(1, round(SMOOTH_S / digest.frame_s))
    bands = _decibel(uniform_filter1d(digest.bands, width, axis=0))
    quiet = _quietest(digest)
    running = _most_likely(_evidence(bands, bands[quiet]))
    running = _without_short(running, round(SHORTEST_S / digest.frame_s))
    loud = _decibel(_a_frames(digest))
    if not _is_real(running, uniform_filter1d(loud, width), digest.frame_s):
        return (Run(0.0, end, "running"),)
    return _as_runs(running, digest.frame_s, end)


def _decibel(power: FloatArray | float) -> FloatArray:
    return np.asarray(10 * np.log10(np.maximum(power, 1e-14)))


def _a_frames(digest: Digest) -> FloatArray:
    """A-weighted power of each spectrogram frame (two slots)."""
    pairs = len(digest.bands)
    return np.asarray(digest.power_a[: 2 * pairs].reshape(pairs, 2).mean(1))


def _quietest(digest: Digest) -> slice:
    """Frames of the quietest half second of the recording."""
    width = round(QUIET_S / digest.frame_s)
    mean = np.convolve(_a_frames(digest), np.ones(width) / width, "valid")
    first = int(np.argmin(mean))
    return slice(first, first + width)


def _evidence(bands: FloatArray, quiet: FloatArray) -> FloatArray:
    """Log likelihood ratio of running over still for each frame."""
    centre = quiet.mean(0)
    spread = np.maximum(quiet.std(0, ddof=1), LEAST_SPREAD_DB[: quiet.shape[1]])
    excess = bands - centre
    still = np.exp(-0.5 * np.minimum((excess / (1.5 * spread)) ** 2, 60)) / (1.5 * spread * 2.5066)
    # running: anything up to 40 dB more, a few dB more rather than many
    rise = np.maximum(excess, 0)
    anywhere = np.where(excess > -3 * spread, 0.5 / 40 + 0.5 * np.exp(-rise / 4) / 4, 1e-4)
    ratio = np.log((0.5 * still + 0.5 * anywhere) / np.maximum(still, 1e-6))
    # neighbouring smoothed frames share their samples
    return np.asarray(np.clip(ratio, -3, 6).sum(1) / 3)


def _most_likely(evidence: FloatArray) -> NDArray[np.bool_]:
    """Viterbi path of two states with a cost for each change; True is running."""
    count = evidence.size
    back = np.zeros((count, 2), dtype=bool)
    still, run = 0.0, 0.0
    for i, gain in enumerate(evidence.tolist()):
        to_run, to_still = still - SWITCH_NATS > run, run - SWITCH_NATS > still
        back[i] = not to_still, to_run
        still, run = (
            run - SWITCH_NATS if to_still else still,
            (still - SWITCH_NATS if to_run else run) + gain,
        )
    state = run > still
    path = np.zeros(count, dtype=bool)
    for i in range(count - 1, -1, -1):
        path[i] = state
        state = not back[i, int(state)]
    return path


def _changes(running: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Give the indices where the state changes, with both ends."""
    inner = np.flatnonzero(np.diff(running.astype(np.int8))) + 1
    return np.concatenate([[0], inner, [running.size]])


def _without_short(running: NDArray[np.bool_], least: int) -> NDArray[np.bool_]:
    joined = running.copy()
    edges = _changes(joined)
    for first, last in pairwise(edges):
        if last - first < least and first > 0 and last < joined.size:
            joined[first:last] = joined[first - 1]
    return joined


def _is_real(running: NDArray[np.bool_], level: FloatArray, frame_s: float) -> bool:
    """Whether the level jumps at the changes instead of creeping over them."""
    if running.all() or not running.any():
        return False
    floor = float(np.median(level[~running]))
    rise = float(np.median(level[running])) - floor
    if rise < LEAST_RISE_DB:
        return False
    if rise > LAP_DB:
        return True
    if _comes_round(running) or _bowl(running, level, frame_s) > BOWL_DB:
        return False
    # a start takes less than a second, the way to and from the far side of a lap longer; ours
    first_s, last_s = round(0.3 / frame_s), round(0.5 / frame_s)
    jumps = []
    edges = _changes(running)
    for first, last in pairwise(edges):
        if not running[first]:
            continue
        if first > 0:
            jumps.append(level[first + first_s : first + last_s].mean() - floor)
        if last < running.size:
            jumps.append(level[max(0, last - last_s) : last - first_s].mean() - floor)
    sharp = [float(j) for j in jumps if np.isfinite(j)]
    return bool(sharp) and float(np.quantile(sharp, 0.75)) > 0.5 * rise


def _comes_round(running: NDArray[np.bool_]) -> bool:
    """Whether the still stretches come at equal distances, as the far side of laps does."""
    edges = _changes(running)
    middles = [(a + b) / 2 for a, b in pairwise(edges) if not running[a]]
    gaps = np.diff(middles[1:-1] if len(middles) > 4 else middles)
    return gaps.size >= 2 and float(np.std(gaps)) < EVEN * float(np.mean(gaps))


def _bowl(running: NDArray[np.bool_], level: FloatArray, frame_s: float) -> float:
    """By how much the still stretches are quieter inside than next to a run, dB.

    A room is flat; the far side of a lap is a bowl.
    """
    step = round(BOWL_S / frame_s)
    depths = []
    edges = _changes(running)
    for first, last in pairwise(edges):
        if running[first] or last - first < 4 * step:
            continue
        inside = float(np.median(level[first + step : last - step]))
        sides = []
        if last < running.size:
            sides.append(level[last - 2 * step : last - step].mean() - inside)
        if first > 0:
            sides.append(level[first + step : first + 2 * step].mean() - inside)
        depths += [float(s) for s in sides]
    # a room that still rings after a stop is no bowl: its other side is flat
    return float(np.quantile(depths, 0.25)) if depths else 0.0


def _as_runs(running: NDArray[np.bool_], frame_s: float, end_s: float) -> tuple[Run, ...]:
    edges = _changes(running)
    runs = []
    for first, last in pairwise(edges):
        stop = end_s if last == running.size else last * frame_s
        runs.append(
            Run(float(first * frame_s), float(stop), "running" if running[first] else "still")
        )
    return tuple(runs)
