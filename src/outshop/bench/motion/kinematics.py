"""A path over time becomes speed, starts, stops, steady parts, ripple and coasting.

Everything here is arithmetic on arrays of time (s) and place (mm); nothing knows of clips.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from outshop.bench.motion.student import student
from outshop.estimate import Estimate, NotMeasurable, Reading

Floats = NDArray[np.float64]
_MOVING_SHARE = 0.04  # of the top speed: below it counts as rest
_STEADY_SHARE = 0.06  # of the speed: how far it may wander within a steady part
_LEAST_STEADY_S = 0.4
_SHORTEST_REST_S = 0.15
# amplitude over its error that noise alone exceeds in 5 % of cases (Rayleigh law: sqrt(-2 ln p),
# p = 0.05 for one period, 0.05 / 30 for about thirty independent ones)
_SURE, _SURE_OF_MANY = 2.45, 3.58
_FEWEST = 6  # places in a steady part


@dataclass(frozen=True, slots=True)
class Span:
    """A part of the run.

    Parameters
    ----------
    start_s, end_s : float
        When.
    direction : int
        1 for left to right, -1 for right to left.
    """

    start_s: float
    end_s: float
    direction: int


def place_noise(t_s: Floats, x_mm: Floats) -> float:
    """Give the standard deviation of one place, in mm, judged by its two neighbours."""
    if len(t_s) < 5:
        return 0.0
    share = (t_s[1:-1] - t_s[:-2]) / (t_s[2:] - t_s[:-2])
    off = x_mm[1:-1] - (1 - share) * x_mm[:-2] - share * x_mm[2:]
    size = np.sqrt(1 + share**2 + (1 - share) ** 2)
    return float(1.4826 * np.median(np.abs(off / size)))


def speed_curve(t_s: Floats, x_mm: Floats, span_s: float) -> tuple[Floats, Floats]:
    """Slope of a straight line fitted around each moment.

    Parameters
    ----------
    t_s, x_mm : ndarray [shape=(n,)]
        Time and place.
    span_s : float
        Width of the window; at least five places are used.

    Returns
    -------
    v_mm_s : ndarray [shape=(n,)]
        Speed at each moment, in mm/s.
    error : ndarray [shape=(n,)]
        Standard error of it for a place noise of 1 mm.
    """
    n = len(t_s)
    first = np.searchsorted(t_s, t_s - span_s / 2 - 1e-9)
    last = np.searchsorted(t_s, t_s + span_s / 2 + 1e-9)
    index = np.arange(n)
    first = np.clip(np.minimum(first, index - 2), 0, max(n - 5, 0))
    last = np.clip(np.maximum(last, first + 5), 0, n)
    t, x = t_s - t_s[0], x_mm - x_mm[0]
    sums = [np.concatenate([[0.0], np.cumsum(q)]) for q in (np.ones(n), t, x, t * t, t * x)]
    count, st, sx, stt, stx = (q[last] - q[first] for q in sums)
    spread = np.maximum(stt - st * st / count, 1e-12)
    return (stx - st * sx / count) / spread, 1 / np.sqrt(spread)


def moving_spans(t_s: Floats, v_mm_s: Floats, error: Floats) -> list[Span]:
    """Find when it moves; short rests between two moves the same way are kept inside."""
    top = float(np.percentile(np.abs(v_mm_s), 95))
    limit = np.maximum(_MOVING_SHARE * top, 4 * error)
    sign = np.where(np.abs(v_mm_s) > limit, np.sign(v_mm_s), 0).astype(int)
    edges = np.flatnonzero(np.diff(sign)) + 1
    spans: list[Span] = []
    for part in np.split(np.arange(len(sign)), edges):
        if not sign[part[0]] or len(part) < 3:
            continue
        span = Span(float(t_s[part[0]]), float(t_s[part[-1]]), int(sign[part[0]]))
        last = spans[-1] if spans else None
        resumed = last and last.direction == span.direction
        if last and resumed and span.start_s - last.end_s < _SHORTEST_REST_S:
            spans[-1] = Span(last.start_s, span.end_s, span.direction)
        else:
            spans.append(span)
    return [s for s in spans if s.end_s - s.start_s > 0.1]


def start_time(t_s: Floats, x_mm: Floats, span: Span, noise_mm: float) -> float | None:
    """When it began to move, or None when it was moving already.

    Near a start the way grows as the square of time, so its root is a straight line that
    meets zero at the start.
    """
    before = (t_s < span.start_s) & (t_s > span.start_s - 3.0)
    rest = x_mm[before & (t_s < span.start_s - 0.05)]
    if len(rest) < 4 or np.ptp(rest) > max(8 * noise_mm, 1.0):
        return None
    way = np.abs(x_mm - np.median(rest))
    top = way[(t_s >= span.start_s) & (t_s <= span.end_s)].max()
    use = (t_s > span.start_s - 0.3) & (t_s < span.end_s)
    use &= (way > max(4 * noise_mm, 0.2)) & (way < max(12 * noise_mm, min(8.0, 0.2 * top)))
    if use.sum() < 3:
        return span.start_s
    root = np.sqrt(way[use])
    slope, offset = np.polyfit(t_s[use], root, 1)
    if slope <= 0:
        return span.start_s
    return float(np.clip(-offset / slope, span.start_s - 0.4, span.start_s + 0.1))


def fall_time(
    t_s: Floats, x_mm: Floats, steady: Span, speed_mm_s: float, stop_s: float, noise_mm: float
) -> float:
    """When the speed began to fall after a steady part.

    Seen from a point that goes on at the steady speed, the model starts to move backwards
    then; so it is a start like any other.
    """
    use = (t_s >= max(steady.start_s, steady.end_s - 0.8)) & (t_s <= stop_s)
    t, way = t_s[use], np.abs(x_mm[use] - x_mm[use][0])
    calm = t < steady.end_s - 0.1
    if calm.sum() < 5:
        return steady.end_s
    lag = speed_mm_s * t - way
    rough = max(noise_mm, float(lag[calm].std()))  # a swing of the speed is no fall
    found = start_time(t, lag - np.median(lag[calm]), Span(steady.end_s, stop_s, 1), rough)
    return steady.end_s if found is None else found


def stop_time(t_s: Floats, x_mm: Floats, span: Span, noise_mm: float) -> float | None:
    """When it came to rest, or None when it was still moving: a start seen backwards."""
    turned = Span(-span.end_s, -span.start_s, -span.direction)
    found = start_time(-t_s[::-1], x_mm[::-1], turned, noise_mm)
    return None if found is None else -found


def steady_parts(t_s: Floats, x_mm: Floats, spans: list[Span], span_s: float = 0.4) -> list[Span]:
    """Find the parts at steady speed, longest way first."""
    v, error = speed_curve(t_s, x_mm, span_s)
    noise = place_noise(t_s, x_mm) * error
    found = []
    for span in spans:
        inside = np.flatnonzero((t_s >= span.start_s) & (t_s <= span.end_s))
        while len(inside) >= _FEWEST:
            part = _longest_even(np.abs(v[inside]), noise[inside], t_s[inside])
            if part is None:
                break
            first, last = _trimmed(t_s, x_mm, inside[part[0]], inside[part[1]])
            if t_s[last] - t_s[first] >= _LEAST_STEADY_S and last - first + 1 >= _FEWEST:
                way = abs(x_mm[last] - x_mm[first])
                found.append((way, Span(float(t_s[first]), float(t_s[last]), span.direction)))
            left, right = inside[: part[0]], inside[part[1] + 1 :]
            inside = left if len(left) > len(right) else right
    found.sort(key=lambda f: -f[0])
    return [span for _, span in found]


def _longest_even(v: Floats, noise: Floats, t_s: Floats) -> tuple[int, int] | None:
    """Longest stretch in which the speed stays within its band; first and last index."""
    best, best_length, first = None, 0.0, 0
    for last in range(len(v)):
        while first < last:
            window = v[first : last + 1]
            low, high = window.min(), window.max()
            rough = float(noise[first : last + 1].mean())
            allowed = _STEADY_SHARE * (low + high) + 4 * rough
            if high - low <= allowed:
                break
            first += 1
        length = t_s[last] - t_s[first]
        if length > best_length:
            best, best_length = (first, last), length
    return best if best_length >= _LEAST_STEADY_S else None


def _trimmed(t_s: Floats, x_mm: Floats, first: int, last: int) -> tuple[int, int]:
    """Cut off ends that are still speeding up or already slowing down."""
    step = max(2, (last - first) // 20)
    for _ in range(8):
        if last - first < 5 * step:
            break
        quarter = (last - first) // 4
        core, error = _slope(t_s, x_mm, first + quarter, last - quarter)
        ends = (_slope(t_s, x_mm, first, first + quarter), _slope(t_s, x_mm, last - quarter, last))
        off = [abs(v - core) > max(0.004 * abs(core), 2.5 * np.hypot(e, error)) for v, e in ends]
        if not any(off):
            break
        first, last = first + step * off[0], last - step * off[1]
    return first, last


def _slope(t_s: Floats, x_mm: Floats, first: int, last: int) -> tuple[float, float]:
    """Slope of a straight line and its standard error, neighbours' likeness included."""
    t, x = t_s[first : last + 1], x_mm[first : last + 1]
    t = t - t.mean()
    power = float((t * t).sum())
    if len(t) < 4 or power <= 0:
        return 0.0, float("inf")
    slope = float((t * x).sum()) / power
    off = x - x.mean() - slope * t
    return slope, _long_run(t * off) / power * float(np.sqrt(len(t) / (len(t) - 2)))


def _long_run(product: Floats) -> float:
    """Root of the summed variance of dependent terms (Newey and West 1987, Bartlett weights)."""
    n = len(product)
    lags = min(n // 3, int(np.ceil(1.5 * n ** (1 / 2))))
    total = float((product * product).sum())
    plain = total
    for lag in range(1, lags + 1):
        total += 2 * (1 - lag / (lags + 1)) * float((product[lag:] * product[:-lag]).sum())
    return float(np.sqrt(max(total, 0.5 * plain, 0.0)))


def mean_speed(t_s: Floats, x_mm: Floats, span: Span, place_mm: float = 0.0) -> Estimate:
    """Mean speed over a steady part, unsigned, in m/s; ruler errors not included.

    Parameters
    ----------
    t_s, x_mm : ndarray [shape=(n,)]
        Time and place.
    span : Span
        The steady part.
    place_mm : float
        Standard error of places far apart that neighbours do not show, in mm.

    Returns
    -------
    Estimate
        Least-squares slope with a 95 % interval (Student's t, dependent residuals).
    """
    inside = np.flatnonzero((t_s >= span.start_s - 1e-9) & (t_s <= span.end_s + 1e-9))
    slope, error = _slope(t_s, x_mm, inside[0], inside[-1])
    reach = float(t_s[inside[-1]] - t_s[inside[0]])
    error = float(np.hypot(error, np.sqrt(2) * place_mm / reach))
    wide = student(max(3.0, len(inside) / 4))
    return Estimate.plus_minus(
        abs(slope) / 1000,
        wide * error / 1000,
        "m/s",
        method="slope of the path over its steady part",
    )


def ripple(t_s: Floats, x_mm: Floats, span: Span, period_mm: float | None) -> Reading:
    """Swing of the speed once per ``period_mm`` of way, as amplitude in percent of the mean.

    A speed v (1 + a sin(2 pi x / C)) puts the places a C / (2 pi) off their straight line
    (first order in a), so a is read from the places, which are surer than speeds. Without
    a period the strongest one between 12 mm and a third of the way is taken.
    """
    inside = (t_s >= span.start_s) & (t_s <= span.end_s)
    t, x = t_s[inside], np.abs(x_mm[inside] - x_mm[inside][0])
    way = float(x[-1])
    if len(t) < 16:
        return NotMeasurable("too few frames at steady speed", "percent")
    line: Floats = np.asarray(np.polyval(np.polyfit(t, x, 1), t), dtype=np.float64)
    off = x - line
    step = float(np.median(np.diff(line)))
    sure = _SURE
    if period_mm is None:
        shortest, longest = max(12.0, 4 * step), way / 4
        if longest < 1.2 * shortest:
            return NotMeasurable("the steady part is too short a way to see a swing", "percent")
        periods = 1 / np.linspace(1 / longest, 1 / shortest, 300)
        period_mm = float(max(periods, key=lambda p: _swing(line, off, p)[0] / p))
        chosen = f"strongest swing, every {period_mm:.0f} mm"
        sure = _SURE_OF_MANY
    else:
        chosen = "once per wheel turn"
    if way < 2 * period_mm or period_mm < 2.5 * step:
        return NotMeasurable(
            f"the steady part covers {way:.0f} mm in steps of {step:.1f} mm: a wheel turn of "
            f"{period_mm:.0f} mm needs two turns and three frames a turn", "percent",
        )  # fmt: skip
    amplitude, error = _swing(line, off, period_mm)
    share = 200 * np.pi / period_mm
    # the amplitude of mere noise is not zero but about its error; take that off
    best = float(np.sqrt(max(amplitude**2 - (sure * error) ** 2 / 3, 0.0))) * share
    low = max(0.0, amplitude - 1.96 * error) * share if amplitude > sure * error else 0.0
    high = (amplitude + 1.96 * error) * share
    return Estimate(
        best, min(low, best), max(high, best), "percent",
        method=f"amplitude of the speed's swing, {chosen}",
    )  # fmt: skip


def _swing(way: Floats, off: Floats, period_mm: float) -> tuple[float, float]:
    """Amplitude of the off-line part with one period, and its standard error, in mm."""
    angle = 2 * np.pi * way / period_mm
    part = way / way[-1]
    system = np.stack([np.cos(angle), np.sin(angle), np.ones_like(way), part, part**2], axis=1)
    fit, *_ = np.linalg.lstsq(system, off, rcond=None)
    rest = off - system @ fit
    scale = float(np.sqrt((rest @ rest) / max(1, len(off) - 5)))
    likeness = float((rest[1:] @ rest[:-1]) / max(rest @ rest, 1e-12))
    longer = np.sqrt((1 + max(likeness, 0)) / (1 - min(max(likeness, 0), 0.9)))
    return float(np.hypot(fit[0], fit[1])), float(scale * np.sqrt(2 / len(off)) * longer)


def acceleration(t_s: Floats, x_mm: Floats, start_s: float, end_s: float) -> Reading:
    """Mean acceleration between two moments, from a parabola through the places, in m/s2."""
    inside = (t_s >= start_s) & (t_s <= end_s)
    if inside.sum() < 6:
        return NotMeasurable("it gains speed within too few frames", "m/s2")
    t, x = t_s[inside] - t_s[inside].mean(), x_mm[inside]
    fit, covariance = np.polyfit(t, x, 2, cov=True)
    wide = student(len(t) - 3) * float(np.sqrt(covariance[0, 0]))
    return Estimate.plus_minus(
        2 * fit[0] / 1000, 2 * wide / 1000, "m/s2", method="parabola through the places"
    )
