"""Currents of the phases: running, starting peak, slip, stall, drift and dips."""

import math

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaincinv

from outshop.bench.electrics.log import Bins, CurrentLog
from outshop.bench.electrics.phases import Phase
from outshop.bench.readings import student
from outshop.estimate import Estimate, NotMeasurable, Reading

Array = NDArray[np.float64]

BATCHES = 20  # few enough that neighbours in a batch share their slow wander
SLIP_RATIO = 1.25  # least slip over running current; our own setting
SLIP_S = 0.5
SINGLE = 1e-6  # relative; the currents are held in single precision
DRIFT_S = 60.0  # warming shows within minutes (common practice), hardly below one
DIP_SHARE = 0.6  # of the running level
FEWEST_DIPS = 5
NEAR_TOP = 0.85  # share of the way from running to peak
RESOLVED = 4  # readings that a decay needs to be fitted
REGULAR = 0.25  # most spread of the intervals between regular dips, relative


def settled_bins(phases: list[Phase], state: str = "running") -> NDArray[np.intp]:
    """Give the bins of all phases in a state, without edges and the tail of a start."""
    parts = [np.empty(0, dtype=np.intp)]
    for before, phase in zip([None, *phases], phases, strict=False):
        if phase.state != state:
            continue
        length = phase.last - phase.first
        edge = 1 if length > 6 else 0
        start = edge
        if before is not None and before.state == "starting":
            # a start ends within a twentieth of the way: as long again brings it to 1/400
            start = max(edge, min(before.last - before.first, length // 2))
        parts.append(np.arange(phase.first + start, phase.last - edge))
    return np.concatenate(parts)


def mean_level(values: Array, step: float, what: str, unit: str = "A") -> Reading:
    """Mean of a slowly wandering level with a batch-means interval.

    Parameters
    ----------
    values : array, shape (m,)
        Levels of successive bins.
    step : float
        Smallest step between different raw readings: the meter's resolution.
    what : str
        Named in the reason when there are too few values.
    """
    if values.size < 3:
        return NotMeasurable(f"too few readings while {what}: log for some seconds", unit)
    batches = values
    if values.size >= 2 * BATCHES:
        usable = values[: values.size - values.size % BATCHES]
        batches = usable.reshape(BATCHES, -1).mean(axis=1)
    mean = float(values.mean())
    error = float(batches.std(ddof=1)) / math.sqrt(batches.size)
    half = student(batches.size - 1) * error
    half = max(half, SINGLE * abs(mean))
    if float(values.std()) < step:  # no noise to average the rounding away
        half = math.hypot(half, 0.475 * step)  # 95 % of a uniform law over half a step
    return Estimate.plus_minus(mean, half, unit, method=f"mean while {what}, batch means")


def resolution(values: NDArray[np.floating]) -> float:
    """Smallest step that a meter shows, from its first ten thousand readings.

    With few different readings their last decimal tells it, else their smallest difference.
    """
    unique = np.unique(np.round(values[:10_000].astype(np.float64), 7))
    if unique.size > 20:
        return float(np.diff(unique).min())
    for decimals in range(6):
        if np.allclose(unique, np.round(unique, decimals), rtol=0, atol=1e-7):
            return float(10.0**-decimals)
    return 0.0


def without_dips(values: Array) -> Array:
    """Leave out short losses of current and the bins beside them."""
    if values.size < 10:
        return values
    low = values < DIP_SHARE * float(np.median(values))
    wide = low | np.roll(low, 1) | np.roll(low, -1)
    return values if wide.mean() > 0.5 else values[~wide]


def split_slip(values: Array, step_s: float) -> tuple[Array, Array]:
    """Split running levels into the usual one and a sustained higher one (slipping)."""
    usual = float(np.median(values)) if values.size else 0.0
    high = values > SLIP_RATIO * usual
    least = max(2, round(SLIP_S / step_s))
    edges = np.flatnonzero(np.diff(np.concatenate(([0], high.astype(np.int8), [0]))))
    slipping = np.zeros(values.size, dtype=bool)
    for a, b in zip(edges[::2], edges[1::2], strict=True):
        if b - a >= least:
            slipping[a:b] = True
    return values[~slipping], values[slipping]


def starting_peak(log: CurrentLog, bins: Bins, phases: list[Phase]) -> Reading:
    """Give the highest current just after switching on.

    The decay behind the highest reading is fitted by an exponential towards the running
    level; the true peak may lie up to one reading earlier, which sets the upper end.
    """
    found: list[Reading] = []
    for before, phase in zip([None, *phases], phases, strict=False):
        if phase.state != "starting" or (before is not None and before.state == "stalled"):
            continue
        first, last = int(bins.first[phase.first]), int(bins.last[phase.last - 1])
        # as long again lets the last twentieth of the decay die away
        begin, length = last + (last - first), max(10, 2 * (last - first))
        after = np.abs(log.current_a[begin : begin + length]).astype(np.float64)
        if after.size < 3:
            after = np.abs(log.current_a[last : last + 10]).astype(np.float64)
        floor = float(np.median(after)) if after.size else 0.0
        part = np.abs(log.current_a[max(0, first - 1) : last]).astype(np.float64)
        noise = float(np.std(after)) if after.size > 2 else 0.0
        found.append(_peak(part, floor, noise))
    if not found:
        return NotMeasurable("no start is seen: switch on while the log runs", "A")
    seen = [f for f in found if isinstance(f, Estimate)]
    return max(seen, key=lambda e: e.value) if seen else found[0]


def _peak(part: Array, floor: float, noise: float) -> Reading:
    # the first reading near the top: among noisy readings the highest may come later
    at = int(np.argmax(part >= floor + NEAR_TOP * (part.max() - floor)))
    tail = part[at:] - floor
    above = int(np.argmax(tail <= max(0.1 * tail[0], 2 * noise))) or tail.size
    top = float(part.max())
    if above < RESOLVED:
        return _coarse_peak(part[at:], floor, noise, above)
    tail = tail[:above]
    x = np.arange(tail.size)
    weights = tail**2  # of the logarithm's error, noise being equal at each reading
    total = float(weights.sum())
    centre = float(x @ weights) / total
    mean = float(np.log(tail) @ weights) / total
    spread = float(weights @ (x - centre) ** 2)
    rate = float(weights @ ((x - centre) * (np.log(tail) - mean))) / spread
    fitted = math.exp(mean - rate * centre)
    misfit = float(np.std(tail - fitted * np.exp(rate * x)))
    error = max(noise, misfit)
    half = 1.96 * error * fitted * math.sqrt(1 / total + centre**2 / spread)
    value = floor + fitted
    if misfit > 3 * noise or abs(value - top) > 4 * error:  # no exponential: trust the reading
        value, half = top, 2 * max(noise, SINGLE * top)
    earlier = floor + (value - floor) * math.exp(min(2.0, max(0.0, -rate)))
    return Estimate(
        value, max(0.0, value - half), earlier + half, "A", method="decay fitted back to its start"
    )


def _coarse_peak(tail: Array, floor: float, noise: float, above: int) -> Reading:
    """Bound the peak of a start that a slow log shows in two or three readings."""
    top = float(tail.max())
    if above < 2 or tail.size < 2:
        return NotMeasurable(
            f"the log is too slow for the start; its highest reading is {top:.3g} A, "
            "the true peak is above it",
            "A",
        )
    first, second = top - floor, max(float(tail[1]) - floor - 2 * noise, 0.05 * (top - floor))
    # switched on up to one reading earlier, it has decayed by the ratio of two readings
    return Estimate(
        top,
        max(0.0, top - 2 * noise),
        floor + first * first / second + 2 * noise,
        "A",
        method="highest reading",
        warnings=("the log is too slow for the start: the true peak may be higher",),
    )


def drift(bins: Bins, phases: list[Phase]) -> Reading:
    """Give the change of running current over the longest run, in percent of its mean."""
    runs = [p for p in phases if p.state == "running"]
    longest = max(runs, key=lambda p: p.end_s - p.start_s, default=None)
    if longest is None or longest.end_s - longest.start_s < DRIFT_S:
        return NotMeasurable(f"drift needs a run of {DRIFT_S:.0f} s or more", "percent")
    level = bins.level_a[longest.first : longest.last]
    usable = level[: level.size - level.size % BATCHES]
    if usable.size < 2 * BATCHES:
        return NotMeasurable("too few readings to see a drift: log more often", "percent")
    batches = usable.reshape(BATCHES, -1).mean(axis=1)
    x = (np.arange(BATCHES) + 0.5) / BATCHES - 0.5
    slope = float(x @ batches / (x @ x))
    rest = batches - batches.mean() - slope * x
    error = math.sqrt(float(rest @ rest) / (BATCHES - 2) / float(x @ x))
    mean = float(batches.mean())
    minutes = (longest.end_s - longest.start_s) / 60
    return Estimate.plus_minus(
        100 * slope / mean,
        100 * student(BATCHES - 2) * error / mean,
        "percent",
        method=f"straight line over {minutes:.1f} min of running",
    )


def dips(bins: Bins, phases: list[Phase]) -> tuple[Reading, Reading]:
    """Give the rate of short losses of current, and their frequency if they are regular.

    Returns
    -------
    rate, frequency : Reading
        Both in 1/s. The rate's interval is Poisson's (chi-square limits).
    """
    times: list[float] = []
    gaps: list[float] = []
    seconds = 0.0
    for phase in phases:
        if phase.state != "running":
            continue
        part = slice(phase.first, phase.last)
        level = bins.level_a[part]
        low = level < DIP_SHARE * float(np.median(level))
        starts = np.flatnonzero(np.diff(low.astype(np.int8), prepend=0) == 1)
        places = bins.start_s[part][starts]
        times += list(places)
        gaps += list(np.diff(places))
        seconds += phase.end_s - phase.start_s
    if seconds < 5:
        none = NotMeasurable("dips need 5 s of running or more", "1/s")
        return none, none
    rate = _poisson(len(times), seconds)
    regular: Reading = NotMeasurable("no regular dips", "1/s")
    if len(times) > FEWEST_DIPS and np.std(gaps) < REGULAR * np.mean(gaps):
        mean = float(np.mean(gaps))
        half = student(len(gaps) - 1) * float(np.std(gaps, ddof=1)) / math.sqrt(len(gaps))
        period = Estimate.plus_minus(mean, max(half, 0.5 * bins.step_s / len(gaps)), "s")
        regular = period.map(lambda x: 1 / x, "1/s")
    return rate, regular


def _poisson(count: int, seconds: float) -> Estimate:
    low = float(gammaincinv(count, 0.025)) if count else 0.0
    high = float(gammaincinv(count + 1, 0.975))
    return Estimate(
        count / seconds, low / seconds, high / seconds, "1/s", method=f"{count} dips, Poisson"
    )
