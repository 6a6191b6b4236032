"""Other clocks: light gates, a stop-watch, laps; and how far they agree with the clip."""

import math
from collections.abc import Sequence

import numpy as np
from scipy.special import stdtrit

from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable, Reading

HAND_S = 0.1  # standard error of one press of a stop-watch (our assumption: reaction jitter)
GATE_S = 0.002  # standard error of one light gate's time (our assumption)
_Z = 1.959964  # normal 97.5 % quantile


def speed_over(
    way_mm: float, seconds: Sequence[float], press_s: float = HAND_S, way_error_mm: float = 1.0
) -> Estimate:
    """Give the speed over a measured way, in m/s, from one or more times.

    Parameters
    ----------
    way_mm : float
        Measured way, or length of the loop.
    seconds : sequence of float
        Time of each run or lap.
    press_s : float
        Standard error of one press; each time has two.
    way_error_mm : float
        Standard error of the way.

    Raises
    ------
    InputError
        A way or a time is not above zero.
    """
    times = np.asarray(seconds, dtype=float)
    if not (math.isfinite(way_mm) and way_mm > 0) or not len(times) or not (times > 0).all():
        raise InputError("a way above 0 mm and at least one time above 0 s are needed")
    mean = float(times.mean())
    pressed = math.sqrt(2) * press_s / math.sqrt(len(times))
    spread = float(times.std(ddof=1)) / math.sqrt(len(times)) if len(times) > 1 else 0.0
    if spread > pressed:  # the runs differ by more than the presses explain
        wide, error = float(stdtrit(len(times) - 1, 0.975)), spread
    else:
        wide, error = _Z, pressed
    share = math.hypot(wide * error / mean, _Z * way_error_mm / way_mm)
    value = way_mm / mean / 1000
    method = f"way over the mean of {len(times)} times"
    return Estimate(value, max(0.0, value * (1 - share)), value * (1 + share), "m/s", method=method)


def agreement(one: Reading, other: Reading) -> Reading:
    """Give how far the second speed lies from the first, in percent of the first.

    Two clocks agree when the interval holds 0.
    """
    for reading in (one, other):
        if not isinstance(reading, Estimate):
            return NotMeasurable(reading.reason, "percent")
    if not isinstance(one, Estimate) or not isinstance(other, Estimate):
        return NotMeasurable("a speed is missing", "percent")
    ratio = other.over(one, "")
    if not isinstance(ratio, Estimate):
        return NotMeasurable(ratio.reason, "percent")
    return (ratio - 1.0).map(lambda share: 100 * share, "percent")


def slip(wheel_turns_per_s: Reading, wheel_mm: float, track_m_s: Reading) -> Reading:
    """Give the slip of the driving wheels in percent of their rim's speed.

    slip = 1 - v / (pi d n): 0 when they roll, 100 when they spin on the spot.
    """
    if not isinstance(wheel_turns_per_s, Estimate):
        return NotMeasurable(wheel_turns_per_s.reason, "percent")
    if not isinstance(track_m_s, Estimate):
        return NotMeasurable(track_m_s.reason, "percent")
    if not 1 <= wheel_mm <= 500:
        raise InputError(f"a wheel of {wheel_mm:g} mm is none: give its diameter in mm")
    rim = wheel_turns_per_s * (math.pi * wheel_mm / 1000)
    share = track_m_s.over(rim, "")
    if not isinstance(share, Estimate):
        return NotMeasurable("the wheels stand still", "percent")
    return share.map(lambda s: 100 * (1 - s), "percent")


def true_ratio(motor_turns_per_s: Reading, wheel_mm: float, track_m_s: Reading) -> Reading:
    """Give motor turns for one wheel turn, from sound and clip, when nothing slips."""
    if not isinstance(motor_turns_per_s, Estimate):
        return NotMeasurable(motor_turns_per_s.reason, "")
    if not isinstance(track_m_s, Estimate):
        return NotMeasurable(track_m_s.reason, "")
    wheel = track_m_s * (1000 / (math.pi * wheel_mm))
    return motor_turns_per_s.over(wheel, "")
