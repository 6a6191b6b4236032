"""Laps: the level rises and falls each time the model passes the phone."""

import numpy as np
from numpy.typing import NDArray
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
    shares = _explained(level, periods)
    best = _first_good(periods, shares)
    share, swing = float(shares[best]), _swing(level, periods[best])
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


def _harmonics(period: float) -> int:
    """How fine a shape the smoothing lets through."""
    return min(HARMONICS, max(1, int(period / (2 * SMOOTH * STEP_S))))


def _explained(level: FloatArray, periods: FloatArray) -> FloatArray:
    """Share of the variance that a periodic curve explains, for each period.

    The curve is fitted by the normal equations. Their matrix holds sums of cosines and sines of
    even steps, geometric series in closed form; only the right side needs the level.
    """
    varied = level - level.mean()
    total = float(varied @ varied)
    if total <= 0:
        return np.zeros(periods.size)
    count = np.arange(level.size)
    out = np.empty(periods.size)
    for i, period in enumerate(periods):
        angle = 2 * np.pi * STEP_S / period
        top = _harmonics(period)
        turn = np.exp(1j * angle * count)
        wave, seen = turn, []
        for _ in range(top):
            seen.append(wave @ varied)
            wave = wave * turn
        out[i] = _solved(np.array(seen), angle, level.size) / total
    return out


def _solved(seen: NDArray[np.complex128], angle: float, count: int) -> float:
    """Energy that harmonics of ``angle`` a step, plus a constant, explain in ``count`` steps.

    ``seen`` are the sums of the (mean-free) signal times exp(i·k·angle·n), k = 1, 2, ...
    """
    orders = np.arange(-seen.size, seen.size + 1)
    gap = (orders[:, None] - orders[None, :]) * angle
    with np.errstate(divide="ignore", invalid="ignore"):
        series = (1 - np.exp(1j * gap * count)) / (1 - np.exp(1j * gap))
    gram = np.where(orders[:, None] == orders[None, :], count, series)
    right = np.concatenate([seen[::-1].conj(), [0.0], seen])
    return float((right.conj() @ np.linalg.solve(gram, right)).real)


def _swing(level: FloatArray, period: float) -> float:
    """How far the periodic curve that fits best rises and falls, dB."""
    phase = 2 * np.pi * np.arange(level.size) * STEP_S / period
    columns = [np.ones(level.size)]
    for k in range(1, _harmonics(period) + 1):
        columns += [np.cos(k * phase), np.sin(k * phase)]
    design = np.stack(columns, 1)
    return float(np.ptp(design @ np.linalg.lstsq(design, level, rcond=None)[0]))


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
    left = 1 - _explained(level, near)
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
    return value, float(max(1.8 * error, 0.0045 * period))
