"""Laps: the level rises and falls each time the model passes the phone."""

import numpy as np
from scipy.ndimage import uniform_filter1d

from outshop.bench.sound.digest import Digest
from outshop.bench.sound.runs import Run
from outshop.bench.sound.weighting import FloatArray
from outshop.estimate import Estimate, NotMeasurable, Reading

STEP_S = 0.1  # of the level; ours: a fiftieth of a usual lap
SMOOTH = 5  # steps; hides single wheel turns; ours
SHORTEST_S, LONGEST_S = 1.5, 120.0  # faster laps would be wheel turns; ours
LEAST_LAPS = 2.2  # two passes and a bit, or nothing repeats; ours
HARMONICS = 4  # shape of one pass; ours
LEAST_SWING_DB = 2.0  # smaller changes are not passes; ours
ENOUGH_S = 300.0  # of a long run; more laps add little and cost time; ours
EDGE_S = 0.9  # start and stop are left out; ours


def lap_time(digest: Digest, runs: tuple[Run, ...]) -> Reading:
    """Find the time of a lap from the longest running stretch.

    A periodic curve of four harmonics is fitted to the level for each period; the period that
    explains most, against the same curve on its neighbours, is the lap.

    Parameters
    ----------
    digest : Digest
        The recording.
    runs : tuple of Run
        Its stretches.

    Returns
    -------
    Reading
        Seconds, or why there are no laps.
    """
    moving = [r for r in runs if r.state == "running"]
    if not moving:
        return NotMeasurable("nothing runs in this recording", "s")
    longest = max(moving, key=lambda r: r.duration_s)
    level = _level(digest, longest)
    duration = level.size * STEP_S
    if duration < LEAST_LAPS * SHORTEST_S:
        return NotMeasurable("the run is too short to hold laps", "s")
    level = level - np.polyval(np.polyfit(np.arange(level.size), level, 1), np.arange(level.size))
    periods = _periods(duration)
    shares = np.array([_explained(level, p)[0] for p in periods])
    best = _first_good(periods, shares)
    share, swing = _explained(level, periods[best])
    laps = duration / periods[best]
    needed = 0.6 if laps >= 4 else 0.8
    if share < needed or swing < LEAST_SWING_DB:
        return NotMeasurable("the level does not rise and fall in laps", "s")
    value, error = _sharpened(level, periods[best], share)
    return Estimate.plus_minus(
        value, 1.96 * error, "s", method=f"period of the level over {laps:.1f} laps"
    )


def _level(digest: Digest, run: Run) -> FloatArray:
    per = round(STEP_S / digest.slot_s)
    first = int((run.start_s + EDGE_S) / digest.slot_s)
    last = int((min(run.end_s, run.start_s + ENOUGH_S) - EDGE_S) / digest.slot_s)
    power = digest.power_a[first:last]
    count = power.size // per
    if count < 3 * SMOOTH:
        return np.zeros(0)
    steps = power[: count * per].reshape(count, per).mean(1)
    return np.asarray(10 * np.log10(uniform_filter1d(steps, SMOOTH) + 1e-14))


def _periods(duration: float) -> FloatArray:
    longest = min(LONGEST_S, duration / LEAST_LAPS)
    # a step moves the last lap by a tenth of a lap at most
    step = max(0.002, 0.1 * SHORTEST_S / duration)
    count = max(2, int(np.log(longest / SHORTEST_S) / step))
    return np.asarray(SHORTEST_S * np.exp(step * np.arange(count + 1)))


def _explained(level: FloatArray, period: float) -> tuple[float, float]:
    """Share of the variance that a periodic curve explains, and its swing in dB."""
    phase = 2 * np.pi * np.arange(level.size) * STEP_S / period
    # no finer shape than the smoothing lets through
    count = min(HARMONICS, max(1, int(period / (2 * SMOOTH * STEP_S))))
    columns = [np.ones(level.size)]
    for k in range(1, count + 1):
        columns += [np.cos(k * phase), np.sin(k * phase)]
    design = np.stack(columns, 1)
    weights = np.linalg.lstsq(design, level, rcond=None)[0]
    curve = design @ weights
    total = float(np.var(level))
    left = float(np.var(level - curve))
    return (1 - left / total if total > 0 else 0.0), float(np.ptp(curve))


def _first_good(periods: FloatArray, shares: FloatArray) -> int:
    """Pick the shortest period that explains nearly as much as the best: multiples fit too."""
    best = periods[int(np.argmax(shares))]
    near = np.abs(best / periods - np.round(best / periods)) < 0.06
    good = shares >= shares.max() - np.where(near, 0.15, 0.05)
    peak = np.r_[False, (shares[1:-1] >= shares[:-2]) & (shares[1:-1] >= shares[2:]), False]
    candidates = np.flatnonzero(good & peak)
    return int(candidates[0]) if candidates.size else int(np.argmax(shares))


def _sharpened(level: FloatArray, period: float, share: float) -> tuple[float, float]:
    """Refine the period and give its standard error from the curvature of the fit."""
    near = period * np.linspace(0.97, 1.03, 61)
    left = np.array([1 - _explained(level, p)[0] for p in near])
    best = int(np.argmin(left))
    inner = slice(max(0, best - 6), best + 7)
    bend, slope, _ = np.polyfit(near[inner] - period, left[inner], 2)
    if bend <= 0:
        return float(near[best]), 0.01 * period
    value = float(np.clip(period - slope / (2 * bend), near[0], near[-1]))
    # smoothed steps share their samples: fewer are independent
    independent = max(4.0, level.size / SMOOTH)
    error = np.sqrt(max(1 - share, 1e-3) / independent / bend)
    # slow changes of speed and loudness are not in the residual: widened on simulations
    return value, float(max(1.8 * error, 0.002 * period))
