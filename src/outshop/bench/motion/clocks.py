"""Other clocks than the clip: a stop-watch or two light gates over a measured way, laps."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from outshop.bench.motion.spread import pooled
from outshop.bench.readings import student
from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable, Reading
from outshop.railway.scales import Scale, scale_speed_km_h

Z = 1.959964  # two-sided normal 95 % quantile
WAYS_MM = (5.0, 1e6)  # our fence against typing slips: 5 mm to 1 km
TIMES_S = (1e-3, 86_400.0)  # likewise
MOST_TIMES = 1000
FREEDOM = 8.0  # of a tool's scatter: sure to a quarter of itself (JCGM 100:2008, G.4.2)
RUNS_SHARE = 0.01  # what a model's own speed differs by from run to run; ours
ENOUGH_RUNS, OUTWEIGHS = 4, 3.0  # from so many times on, and so far above the tool; ours
RUNS_FREEDOM = 2.0  # that is known to a half only (JCGM 100:2008, G.4.2)


class Kind(StrEnum):
    """What told the time."""

    STOP_WATCH = "stop-watch"
    GATES = "gates"
    LAPS = "laps"
    SOUND = "sound"
    CLIP = "clip"


@dataclass(frozen=True, slots=True)
class Tool:
    """How well a clock tells a time.

    Parameters
    ----------
    press_s : float
        Standard deviation of the moment at each end of a time, s.
    bias_s : float
        Standard error that stays the same in all times of one person, s.
    step_s : float
        Smallest step of the display, s.
    way_share, way_mm : float
        How far off the measured way may be (95 %): as a share of it, and at least in mm.
    """

    press_s: float
    bias_s: float
    step_s: float
    way_share: float
    way_mm: float


# A hand's moment strays by tens to hundreds of milliseconds (NIST SP 960-12, 2009, section 1);
# 0.1 s an end and 0.03 s left over on the whole are our choice within that. The rest is ours.
TOOLS = {
    Kind.STOP_WATCH: Tool(0.1, 0.03, 0.01, 0.001, 1.0),
    Kind.GATES: Tool(0.002, 0.0, 0.001, 0.001, 1.0),
    Kind.LAPS: Tool(0.1, 0.03, 0.01, 0.005, 2.0),  # a loop is measured less well than a straight
}


@dataclass(frozen=True, slots=True)
class Timing:
    """Times over one way, as they were read.

    Parameters
    ----------
    kind : Kind
        ``STOP_WATCH``, ``GATES`` or ``LAPS``.
    way_mm : float
        Measured way, or length of the loop, mm.
    seconds : tuple of float
        Time of each run, s.
    laps : int
        Rounds of the loop in each time.
    way_tolerance_mm : float, optional
        The way is right within this, 95 %; the tool's usual tolerance if not given.
    """

    kind: Kind
    way_mm: float
    seconds: tuple[float, ...]
    laps: int = 1
    way_tolerance_mm: float | None = None

    def __post_init__(self) -> None:
        """Check once, at the door."""
        _between(self.way_mm, WAYS_MM, "way", "mm")
        if not self.seconds:
            raise InputError("a clock needs at least one time, in s")
        if len(self.seconds) > MOST_TIMES:
            raise InputError(f"{len(self.seconds)} times for one clock: {MOST_TIMES} are enough")
        for second in self.seconds:
            _between(second, TIMES_S, "time", "s")
        if not 1 <= self.laps <= 1000:
            raise InputError(f"{self.laps} laps in one time cannot be: 1 to 1000 are expected")
        tolerance = self.way_tolerance_mm
        if tolerance is not None and not 0 <= tolerance < self.way_mm:
            message = f"a way of {self.way_mm:g} mm cannot be off by {tolerance:g} mm"
            raise InputError(message)


@dataclass(frozen=True, slots=True)
class ClockSpeed:
    """What one clock says.

    Parameters
    ----------
    name : str
        In words.
    kind : Kind
        Which clock.
    speed : Reading
        m/s.
    time_share, way_share : float
        Standard errors from the time and from the way, as shares of the speed; clocks over one
        way have the latter in common.
    way_mm : float or None
        Length of the way or loop; None where there is none, as for a clip.
    laps : int
        Rounds in each time.
    seconds : tuple of float
        Times, s.
    """

    name: str
    kind: Kind
    speed: Reading
    time_share: float = 0.0
    way_share: float = 0.0
    way_mm: float | None = None
    laps: int = 1
    seconds: tuple[float, ...] = ()

    def scale_speed(self, of: Scale | None) -> Reading:
        """Give the speed at full size, km/h."""
        return at_scale(self.speed, of)


def at_scale(speed: Reading, of: Scale | None) -> Reading:
    """Turn a model's speed (m/s) into scale speed (km/h).

    Raises
    ------
    InputError
        It is in another unit.
    """
    if not isinstance(speed, Estimate):
        return NotMeasurable(speed.reason, "km/h", speed.warnings)
    if of is None:
        return NotMeasurable("the scale is not known", "km/h")
    if speed.unit != "m/s":
        raise InputError(f"a speed in m/s is needed; got {speed.unit}")
    return speed.map(lambda v: scale_speed_km_h(v, of), "km/h")


def clocked(timing: Timing) -> ClockSpeed:
    """Turn times over a way into a speed.

    v = way x laps / mean time. The time's interval: Student's for the scatter (pooled with what
    tool and model usually scatter), and the normal law for the step of the display and a
    person's bias; the way's is added in quadrature, each side of the speed by itself. One time
    speaks of its own run, several of the speed that is set.

    Returns
    -------
    ClockSpeed
        Its speed is not measurable where the time is no longer than its uncertainty.
    """
    tool = TOOLS[timing.kind]
    times = np.asarray(timing.seconds, float)
    n, mean = len(times), float(times.mean())
    assumed, sure = _assumed(tool, mean, n)
    found = float(times.std(ddof=1)) if n > 1 else 0.0
    spread = pooled(assumed, sure, found, n - 1)
    # a step that is larger than the scatter rounds every time alike, and does not average out
    step = tool.step_s / math.sqrt(12 * (n if found > tool.step_s / 2 else 1))
    steady = math.hypot(step, tool.bias_s)
    half = math.hypot(student(spread.freedom) * spread.error / math.sqrt(n), Z * steady)
    way_half = timing.way_tolerance_mm
    if way_half is None:
        way_half = max(tool.way_share * timing.way_mm, tool.way_mm)
    way = timing.way_mm * timing.laps / 1000
    way_share = way_half / timing.way_mm
    name = _name(timing)
    warnings = _warnings(n, surprising=spread.surprising, share=half / mean)
    speed: Reading = NotMeasurable(
        f"{mean:.3g} s is no longer than its uncertainty: take a longer way", "m/s"
    )
    if half < mean:
        speed = _speed(way, mean, half, way_share, n, warnings)
    return ClockSpeed(
        name,
        timing.kind,
        speed,
        half / mean / Z,
        way_share / Z,
        timing.way_mm,
        timing.laps,
        timing.seconds,
    )


def from_lap_time(lap: Reading, loop_mm: float, tolerance_mm: float | None = None) -> ClockSpeed:
    """Turn the lap time (s) that was found in a recording into a speed over the loop (mm)."""
    _between(loop_mm, WAYS_MM, "loop", "mm")
    name = f"laps heard in the recording, loop of {loop_mm:g} mm"
    if not isinstance(lap, Estimate):
        return ClockSpeed(name, Kind.SOUND, NotMeasurable(lap.reason, "m/s"), way_mm=loop_mm)
    if lap.low <= 0:
        return ClockSpeed(
            name, Kind.SOUND, NotMeasurable("the lap time is not sure", "m/s"), way_mm=loop_mm
        )
    tool = TOOLS[Kind.LAPS]
    half = max(tool.way_share * loop_mm, tool.way_mm) if tolerance_mm is None else tolerance_mm
    share = half / loop_mm
    down, up = lap.value - lap.low, lap.high - lap.value
    value = loop_mm / 1000 / lap.value
    low = value - value * math.hypot(1 - lap.value / lap.high, share)
    high = value + value * math.hypot(lap.value / lap.low - 1, share)
    speed = Estimate(
        value, max(0.0, low), high, "m/s", method="loop over the lap time heard",
        warnings=lap.warnings,
    )  # fmt: skip
    time_share = max(down, up) / lap.value / Z
    return ClockSpeed(name, Kind.SOUND, speed, time_share, share / Z, loop_mm, 1, (lap.value,))


def from_clip(speed: Reading) -> ClockSpeed:
    """Let a clip's speed (m/s) stand beside the clocks."""
    if not isinstance(speed, Estimate):
        return ClockSpeed("clip", Kind.CLIP, NotMeasurable(speed.reason, "m/s"))
    if speed.unit != "m/s" or speed.value <= 0:
        raise InputError(f"a speed above 0 m/s is needed; got {speed.value:g} {speed.unit}")
    return ClockSpeed("clip", Kind.CLIP, speed, speed.standard_error / speed.value)


def _assumed(tool: Tool, mean_s: float, n: int) -> tuple[float, float]:
    """Give the usual standard deviation of a time, s, and its degrees of freedom.

    Several times speak of the speed that is set, so the model's own scatter comes in; the two
    join by Welch and Satterthwaite (JCGM 100:2008, G.4.1). Where it outweighs the tool's, four
    times and more tell it better themselves.
    """
    presses, own = math.sqrt(2) * tool.press_s, RUNS_SHARE * mean_s
    if n == 1 or (n >= ENOUGH_RUNS and own > OUTWEIGHS * presses):
        return presses, FREEDOM
    joined = math.hypot(presses, own)
    return joined, joined**4 / (presses**4 / FREEDOM + own**4 / RUNS_FREEDOM)


def _speed(
    way: float, mean: float, half: float, way_share: float, n: int, warnings: Sequence[str]
) -> Estimate:
    value = way / mean
    low = value - math.hypot(value - way / (mean + half), value * way_share)
    high = value + math.hypot(way / (mean - half) - value, value * way_share)
    method = "way over one time" if n == 1 else f"way over the mean of {n} times"
    return Estimate(
        value, max(0.0, low), high, "m/s", method=method, warnings=tuple(warnings)
    )  # fmt: skip


def _warnings(n: int, *, surprising: bool, share: float) -> list[str]:
    said = []
    if surprising:
        said.append("the times differ by more than the clock explains: the speed itself changed")
    if n < 3 and share > 0.02:
        said.append("a longer way or three times and more would make it surer")
    return said


def _name(timing: Timing) -> str:
    if timing.kind is Kind.LAPS:
        rounds = "" if timing.laps == 1 else f", {timing.laps} rounds a time"
        return f"laps of a loop of {timing.way_mm:g} mm{rounds}"
    return f"{timing.kind.value} over {timing.way_mm * timing.laps:g} mm"


def _between(value: float, limits: tuple[float, float], what: str, unit: str) -> None:
    if not (math.isfinite(value) and limits[0] <= value <= limits[1]):
        message = (
            f"a {what} of {value:g} {unit} cannot be: {limits[0]:g} to {limits[1]:g} {unit} is "
            "expected"
        )
        raise InputError(message)
