"""Runs at several settings become start, drop-out, creep, top, straightness and hysteresis."""

import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from outshop.bench.motion.clocks import FREEDOM, Z, at_scale
from outshop.bench.motion.speed_rows import (
    DOWN,
    FORWARD,
    REVERSE,
    STEP,
    UP,
    SpeedPoint,
    SpeedRows,
    directions,
)
from outshop.bench.motion.spread import Spread, pooled
from outshop.bench.motion.straightness import bow_and_unevenness
from outshop.bench.motion.top_speed import TopVerdict, judge_top
from outshop.bench.readings import student
from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable, Reading
from outshop.railway.scales import Scale

COMMON_SHARE = 0.005  # standard error that all speeds of a table share: the ruler or the way; ours
PER_WAY = ("start", "drop_out", "start_over_drop_out", "creep", "top", "bow", "unevenness", "lag")


@dataclass(frozen=True, slots=True)
class WayFigures:
    """The figures of one direction.

    Parameters
    ----------
    start, drop_out, start_over_drop_out : Reading
        Setting at which it starts when raised, at which it stands when lowered, their difference;
        V or step.
    creep, top : Reading
        Slowest steady and top speed, m/s.
    bow, unevenness : Reading
        Of speed over setting, percent; see :func:`bow_and_unevenness`.
    lag : Reading
        How much faster it runs at a setting while lowering than while raising, percent.
    """

    start: Reading
    drop_out: Reading
    start_over_drop_out: Reading
    creep: Reading
    top: Reading
    bow: Reading
    unevenness: Reading
    lag: Reading


@dataclass(frozen=True, slots=True)
class SpeedTable:
    """All that a table of runs tells.

    Parameters
    ----------
    rows : SpeedRows
        As given.
    ways : mapping of str to WayFigures
        By direction.
    forward_over_reverse : Reading
        How much faster it runs forward, percent.
    verdict : TopVerdict or None
        Top speed against NEM 661; None where scale or full-size speed is not known.
    scale : Scale or None
        For speeds at full size.
    warnings : tuple of str
        What a careful reader should know.
    """

    rows: SpeedRows
    ways: Mapping[str, WayFigures]
    forward_over_reverse: Reading
    verdict: TopVerdict | None = None
    scale: Scale | None = None
    warnings: tuple[str, ...] = field(default=())

    def readings(self) -> dict[str, Reading]:
        """Give every figure by a key of its own, as ``start_forward``; speeds at full size too."""
        found: dict[str, Reading] = {}
        for way, figures in self.ways.items():
            found |= {f"{name}_{way}": getattr(figures, name) for name in PER_WAY}
            if self.scale is not None:
                found[f"creep_scale_{way}"] = at_scale(figures.creep, self.scale)
                found[f"top_scale_{way}"] = at_scale(figures.top, self.scale)
        if len(self.ways) == 2:
            found["forward_over_reverse"] = self.forward_over_reverse
        return found

    def as_json(self) -> dict[str, Any]:
        """Give a plain shape: the runs, then each figure under its key."""
        return {
            "unit": self.rows.unit,
            "points": [
                {"setting": p.setting, "direction": p.direction, "sweep": p.sweep,
                 "speed_m_s": p.speed_m_s, "share": p.share}
                for p in self.rows.points
            ],
            **{key: reading.as_json() for key, reading in self.readings().items()},
            "top_speed_verdict": None if self.verdict is None else self.verdict.as_json(),
            "warnings": list(self.warnings),
        }  # fmt: skip


def rows_from_json(shape: Mapping[str, Any]) -> SpeedRows:
    """Read back the runs of :meth:`SpeedTable.as_json`; :func:`measure` gives the rest again.

    Raises
    ------
    InputError
        It is no speed table.
    """
    try:
        points = tuple(
            SpeedPoint(
                float(p["setting"]), str(p["direction"]), str(p["sweep"]), float(p["speed_m_s"]),
                float(p["share"]),
            )
            for p in shape["points"]
        )  # fmt: skip
        return SpeedRows(str(shape["unit"]), points)
    except (KeyError, TypeError, ValueError) as problem:
        message = f"not a speed table: {problem}"
        raise InputError(message) from problem


def measure(
    rows: SpeedRows,
    *,
    scale: Scale | None = None,
    full_size_km_h: float | None = None,
    nominal: float | None = None,
) -> SpeedTable:
    """Find the figures of a table of runs.

    Parameters
    ----------
    rows : SpeedRows
        The runs.
    scale : Scale, optional
        For speeds at full size and the norm's band.
    full_size_km_h : float, optional
        Top speed of the full-size engine.
    nominal : float, optional
        Nominal voltage or top step; the top speed is then taken there, and only there.
    """
    spread = _spread(rows.points)
    ways = {d: _figures(rows, d, spread, nominal) for d in directions(rows.points)}
    verdict = None
    if scale is not None and full_size_km_h is not None:
        verdict = judge_top([w.top for w in ways.values()], full_size_km_h, scale)
    return SpeedTable(
        rows,
        ways,
        _forward_over_reverse(rows),
        verdict,
        scale,
        tuple(_warnings(rows, nominal)),
    )


def _figures(
    rows: SpeedRows, direction: str, spread: Spread, nominal: float | None
) -> WayFigures:  # fmt: skip
    every = rows.along(direction)
    start = _turning(rows.along(direction, UP), rows.unit, rising=True)
    drop_out = _turning(rows.along(direction, DOWN), rows.unit, rising=False)
    over = _over(start, drop_out, rows.unit)
    running = [p for p in every if p.speed_m_s > 0]
    bow, unevenness = bow_and_unevenness(
        np.array([p.setting for p in running]),
        np.array([p.speed_m_s for p in running]),
        np.array([p.sweep == DOWN for p in running]),
    )
    return WayFigures(
        start, drop_out, over, _creep(running, spread), _top(every, spread, nominal),
        bow, unevenness,
        _paired(rows.along(direction, DOWN), rows.along(direction, UP), "runs up and down"),
    )  # fmt: skip


def _turning(points: Sequence[SpeedPoint], unit: str, *, rising: bool) -> Reading:
    """Give the setting between standing and running, from one sweep.

    The truth lies anywhere between the two settings: 95 % of a uniform law. Steps are whole, so
    there the steps that may be it are given.
    """
    which = "raised" if rising else "lowered"
    stood = [p.setting for p in points if p.speed_m_s == 0]
    ran = [p.setting for p in points if p.speed_m_s > 0]
    if not points:
        return NotMeasurable(f"no runs while the setting was {which}", unit)
    if not ran:
        return NotMeasurable(f"it did not move up to {max(stood):g} {unit}", unit)
    below = [s for s in stood if s < min(ran)]
    if not below:
        lowest = f"it still ran at the lowest setting, {min(ran):g} {unit}: go lower"
        return NotMeasurable(lowest, unit)
    warnings: tuple[str, ...] = ()
    low, high = max(below), min(ran)
    stuck = [s for s in stood if s >= high]
    if stuck:  # from where on does it surely run?
        surely = [s for s in ran if s > max(stuck)]
        if not surely:
            return NotMeasurable(f"it stood at {max(stuck):g} {unit} though it ran below", unit)
        high = min(surely)
        warnings = (f"it stood again at {max(stuck):g} {unit}: dirt, or a tight place",)
    if unit == STEP:
        # the first step at which it runs, the last at which it stands
        low, high = (low + 1, high) if rising else (low, high - 1)
        method = f"steps, {which}"
        return Estimate((low + high) / 2, low, high, unit, method=method, warnings=warnings)
    half = 0.95 * (high - low) / 2
    return Estimate.plus_minus(
        (low + high) / 2, half, unit, method=f"between two settings, {which}", warnings=warnings
    )


def _over(start: Reading, drop_out: Reading, unit: str) -> Reading:
    """Give how far the start lies above the drop-out.

    Between two settings each is uniform; 95 % of the sum of two uniform laws of half-widths a
    and b, a the larger, lie within a + b - sqrt(0.2 a b), or 0.95 a where b is below a / 20.
    """
    if not isinstance(start, Estimate) or not isinstance(drop_out, Estimate):
        return NotMeasurable("it needs start and drop-out", unit)
    if unit == STEP:
        low, high = start.low - drop_out.high, start.high - drop_out.low
        return Estimate(start.value - drop_out.value, low, high, unit, method="steps")
    b, a = sorted((start.half_width / 0.95, drop_out.half_width / 0.95))
    half = a + b - math.sqrt(0.2 * a * b) if b > a / 20 else 0.95 * a
    return Estimate.plus_minus(
        start.value - drop_out.value, half, unit, method="start less drop-out",
        warnings=(*start.warnings, *drop_out.warnings),
    )  # fmt: skip


def _spread(points: Sequence[SpeedPoint]) -> Spread:
    """Give the factor by which readings scatter more, or less, than their errors say."""
    groups: dict[tuple[float, str, str], list[SpeedPoint]] = {}
    for p in points:
        if p.speed_m_s > 0:
            groups.setdefault((p.setting, p.direction, p.sweep), []).append(p)
    squares, freedom = 0.0, 0
    for members in groups.values():
        values = np.array([p.speed_m_s for p in members])
        shares = np.array([p.share for p in members])
        squares += float(np.sum(((values / values.mean() - 1) / shares) ** 2))
        freedom += len(members) - 1
    found = math.sqrt(squares / freedom) if freedom else 0.0
    return pooled(1.0, FREEDOM, found, freedom)


def _mean(points: Sequence[SpeedPoint], spread: Spread, method: str) -> Estimate:
    """Give the mean speed of some points with the scatter of all, and what all share."""
    n = len(points)
    value = math.fsum(p.speed_m_s for p in points) / n
    own = spread.error * math.sqrt(math.fsum(p.share**2 for p in points)) / n
    share = math.hypot(student(spread.freedom) * own, Z * COMMON_SHARE)
    low, high = max(0.0, value * (1 - share)), value * (1 + share)
    return Estimate(value, low, high, "m/s", method=method)


def _creep(running: Sequence[SpeedPoint], spread: Spread) -> Reading:
    """Give the slowest steady speed: at the lowest setting that still runs, unless one is slower.

    The least of many readings would be too low by chance, so another setting counts only when
    it is provably slower.
    """
    if not running:
        return NotMeasurable("it never ran", "m/s")
    means = {
        s: _mean([p for p in running if p.setting == s], spread, f"runs at {s:g}")
        for s in sorted({p.setting for p in running})
    }
    lowest, *others = means.values()
    slower = [m for m in others if m.high < lowest.low]
    return min(slower, key=lambda m: m.value) if slower else lowest


def _top(points: Sequence[SpeedPoint], spread: Spread, nominal: float | None) -> Reading:
    highest = max(p.setting for p in points)
    at = highest if nominal is None else nominal
    chosen = [p for p in points if p.setting == at]
    if not chosen:
        return NotMeasurable(f"no run at the nominal setting, {at:g}", "m/s")
    if all(p.speed_m_s == 0 for p in chosen):
        return NotMeasurable(f"it stood at the highest setting, {at:g}", "m/s")
    return _mean([p for p in chosen if p.speed_m_s > 0], spread, f"runs at {at:g}")


def _forward_over_reverse(rows: SpeedRows) -> Reading:
    return _paired(rows.along(FORWARD), rows.along(REVERSE), "runs both ways", grows=True)


def _paired(
    one: Sequence[SpeedPoint], other: Sequence[SpeedPoint], what: str, *, grows: bool = False
) -> Reading:
    """Give how much faster the first is at like settings, percent of their mean; Student's t.

    Where the difference ``grows`` with the speed, the scatter is taken about a share of the
    speed (ratio estimate, Cochran 1977, 6.4), else about a constant.
    """
    ones, others = _by_setting(one), _by_setting(other)
    both = sorted(ones.keys() & others.keys())
    if len(both) < 2:
        return NotMeasurable(f"it takes {what} at two settings or more", "percent")
    first = np.array([ones[s] for s in both])
    second = np.array([others[s] for s in both])
    middle = (first + second) / 2
    mean, n = float(middle.mean()), len(both)
    difference = first - second
    rest = difference - difference.mean() * (middle / mean if grows else 1.0)
    half = student(n - 1) * math.sqrt(float(rest @ rest) / (n - 1) / n)
    return Estimate.plus_minus(
        100 * float(difference.mean()) / mean, 100 * half / mean, "percent",
        method=f"{n} pairs at like settings",
    )  # fmt: skip


def _by_setting(points: Sequence[SpeedPoint]) -> dict[float, float]:
    """Give the mean speed at each setting at which it ran every time."""
    groups: dict[float, list[float]] = {}
    for p in points:
        groups.setdefault(p.setting, []).append(p.speed_m_s)
    return {s: math.fsum(v) / len(v) for s, v in groups.items() if min(v) > 0}


def _warnings(rows: SpeedRows, nominal: float | None) -> list[str]:
    said = []
    for direction in directions(rows.points):
        for sweep in (UP, DOWN, ""):
            said += _falls(rows.along(direction, sweep), f"{direction} {sweep}".strip(), rows.unit)
    if nominal is None:
        highest = max(p.setting for p in rows.points)
        said.append(
            f"the top speed is that at the highest setting tried, {highest:g} {rows.unit}: the "
            "norm means the nominal voltage or the top step"
        )
    if not any(p.sweep for p in rows.points):
        said.append("which runs were taken raising and which lowering is not known: no start")
    return said


def _falls(points: Sequence[SpeedPoint], where: str, unit: str) -> list[str]:
    """Say where a higher setting ran provably slower."""
    means = list(_by_setting(points).items())
    said = []
    for (low, slow), (high, fast) in itertools.pairwise(means):
        share = max(p.share for p in points)
        if fast < slow * (1 - 2 * Z * share):  # twice: both readings stray
            said.append(
                f"{where}: slower at {high:g} {unit} than at {low:g} {unit}: a slip of the pen, "
                "or it warmed, slipped or bound"
            )
    return said
