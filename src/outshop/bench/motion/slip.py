"""Wheel speed from sound against track speed from clip or clocks: slip, or the true ratio."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from outshop.bench.motion.teeth import Fits, whole_teeth
from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable, Reading

SLIPS, NONE_PROVEN, NEGATIVE, UNKNOWN = "slips", "no_provable_slip", "negative", "not_measurable"
WHEELS_MM = (2.0, 500.0)  # our fence against typing slips
WHEEL_MM = 0.1  # a caliper on a coned tread is right within this, 95 %; ours
SAID_ROLLING = "it rolls without slip, as was said"


@dataclass(frozen=True, slots=True)
class SlipBench:
    """What wheel and track say together.

    Parameters
    ----------
    slip : Reading
        Percent of the rim's speed: 0 when the wheels roll, 100 when they spin on the spot.
    rolling_diameter : Reading
        The wheel that would roll without slip, mm.
    ratio : Reading
        True motor turns for one wheel turn, when nothing slips.
    given_ratio : float or None
        The ratio that the drive is said to have.
    fits : Fits
        Whole-tooth ratios inside the interval of ``ratio``.
    verdict : str
        ``slips``, ``no_provable_slip``, ``negative`` or ``not_measurable``.
    says : tuple of str
        What it means, in sentences.
    """

    slip: Reading
    rolling_diameter: Reading
    ratio: Reading
    given_ratio: float | None
    fits: Fits
    verdict: str
    says: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        """Give a plain shape."""
        return {
            "slip": self.slip.as_json(),
            "rolling_diameter": self.rolling_diameter.as_json(),
            "ratio": self.ratio.as_json(),
            "given_ratio": self.given_ratio,
            "whole_tooth_ratios": [t.as_json() for t in self.fits.nearest],
            "whole_tooth_ratios_in_all": self.fits.count,
            "verdict": self.verdict,
            "says": list(self.says),
        }


def wheel_diameter(millimetres: float, tolerance_mm: float | None = None) -> Estimate:
    """Take the driving wheel's tread diameter (mm) with its tolerance (95 %).

    Raises
    ------
    InputError
        No such wheel.
    """
    if not (math.isfinite(millimetres) and WHEELS_MM[0] <= millimetres <= WHEELS_MM[1]):
        low, high = WHEELS_MM
        message = f"a wheel of {millimetres:g} mm is none: {low:g} to {high:g} mm is expected"
        raise InputError(message)
    half = WHEEL_MM if tolerance_mm is None else tolerance_mm
    if not 0 <= half < millimetres / 2:
        raise InputError(f"a wheel of {millimetres:g} mm cannot be off by {half:g} mm")
    return Estimate.plus_minus(millimetres, half, "mm", method="caliper on the tread")


def measure_slip(
    wheel: Reading,
    diameter: Estimate,
    track: Reading,
    *,
    motor: Reading | None = None,
    given_ratio: float | None = None,
    stages: Sequence[tuple[int, int]] = (),
    rolling: bool = False,
) -> SlipBench:
    """Hold the wheel's speed against the track's.

    slip = 1 - v / (pi d n); with no slip, ratio = n_motor pi d / v. Errors of the three are
    taken as independent (JCGM 100:2008, 5.1.2).

    Parameters
    ----------
    wheel : Reading
        Wheel turns, 1/s, as heard.
    diameter : Estimate
        Tread diameter, mm.
    track : Reading
        Speed over the track, m/s.
    motor : Reading, optional
        Motor turns, 1/s; without it no ratio.
    given_ratio, stages : float, sequence of (driving, driven)
        The drive as it is said to be.
    rolling : bool
        The person says that nothing slips, as a light engine on the level.
    """
    track_ok = _checked(track, "m/s", "the track speed")
    wheel_ok = _checked(wheel, "1/s", "the wheel speed")
    slip = _slip(wheel_ok, diameter, track_ok)
    rolls = _rolling_diameter(wheel_ok, track_ok)
    verdict = _verdict(slip)
    ratio = _ratio(motor, diameter, track_ok, rolling=rolling)
    fits = whole_teeth(ratio, stages) if isinstance(ratio, Estimate) else Fits((), 0)
    says = [*_slip_says(slip, rolls, diameter, verdict, rolling=rolling)]
    says += _ratio_says(ratio, given_ratio, fits, counted=bool(stages))
    return SlipBench(slip, rolls, ratio, given_ratio, fits, verdict, tuple(says))


def _checked(reading: Reading, unit: str, what: str) -> Reading:
    if isinstance(reading, Estimate):
        if reading.unit != unit:
            raise InputError(f"{what} is needed in {unit}; got {reading.unit or 'a plain number'}")
        if reading.value < 0:
            raise InputError(f"{what} must not be negative; got {reading.value:g} {unit}")
    return reading


def _slip(wheel: Reading, diameter: Estimate, track: Reading) -> Reading:
    if not isinstance(wheel, Estimate):
        return NotMeasurable(f"wheel speed: {wheel.reason}", "percent")
    if not isinstance(track, Estimate):
        return NotMeasurable(f"track speed: {track.reason}", "percent")
    rim = wheel.times(diameter, "mm/s") * (math.pi / 1000)
    share = track.over(rim, "")
    if not isinstance(share, Estimate):
        return NotMeasurable("the wheels cannot be told from standing still", "percent")
    found = share.map(lambda s: 100 * (1 - s), "percent")
    return Estimate(
        found.value, found.low, found.high, "percent", found.confidence,
        "1 - v / (pi d n)", found.warnings,
    )  # fmt: skip


def _rolling_diameter(wheel: Reading, track: Reading) -> Reading:
    if not isinstance(wheel, Estimate) or not isinstance(track, Estimate):
        return NotMeasurable("it needs wheel and track speed", "mm")
    found = (track * (1000 / math.pi)).over(wheel, "mm")
    if not isinstance(found, Estimate):
        return NotMeasurable("the wheels cannot be told from standing still", "mm")
    return found


def _ratio(
    motor: Reading | None, diameter: Estimate, track: Reading, *, rolling: bool
) -> Reading:  # fmt: skip
    if not rolling:
        return NotMeasurable("only when nothing slips: say so, or run light on the level", "")
    if motor is None:
        return NotMeasurable("the motor speed is not known", "")
    motor = _checked(motor, "1/s", "the motor speed")
    if not isinstance(motor, Estimate):
        return NotMeasurable(f"motor speed: {motor.reason}", "")
    if not isinstance(track, Estimate):
        return NotMeasurable(f"track speed: {track.reason}", "")
    found = motor.times(diameter, "mm/s").over(track, "")
    if not isinstance(found, Estimate):
        return NotMeasurable("the model cannot be told from standing still", "")
    found = found * (math.pi / 1000)
    return Estimate(
        found.value, max(0.0, found.low), found.high, "", found.confidence,
        "n pi d / v, without slip", found.warnings,
    )  # fmt: skip


def _verdict(slip: Reading) -> str:
    if not isinstance(slip, Estimate):
        return UNKNOWN
    if slip.low > 0:
        return SLIPS
    return NEGATIVE if slip.high < 0 else NONE_PROVEN


def _slip_says(
    slip: Reading, rolls: Reading, diameter: Estimate, verdict: str, *, rolling: bool
) -> list[str]:
    if not isinstance(slip, Estimate):
        return [f"slip cannot be told: {slip.reason}"]
    said = []
    if verdict == NEGATIVE and isinstance(rolls, Estimate):
        said.append(
            "the model goes farther than its wheels turn, and no wheel slips that way: the "
            "diameter, the ratio or one of the two speeds is wrong, or it coasts freely; wheels of "
            f"{rolls.value:.2f} ({rolls.low:.2f} to {rolls.high:.2f}) mm would roll"
        )
    if verdict == SLIPS and rolling and isinstance(rolls, Estimate):
        said.append(
            f"{SAID_ROLLING}, yet the figures do not meet: the diameter, the ratio or one of the "
            f"two speeds is wrong; wheels of {rolls.value:.2f} ({rolls.low:.2f} to "
            f"{rolls.high:.2f}) mm would roll"
        )
    elif verdict == SLIPS:
        said.append("the wheels slip")
    if verdict == NONE_PROVEN:
        said.append("no slip is proven: the interval holds 0")
    wheel_share = 100 * diameter.half_width / diameter.value * (1 - slip.value / 100)
    if wheel_share > 0.5 * slip.half_width > 0:
        said.append(
            f"the wheel's diameter, ±{diameter.half_width:g} mm, makes ±{abs(wheel_share):.1f} "
            "percent of the interval by itself: measure it at three places on the tread"
        )
    return said


def _ratio_says(
    ratio: Reading, given: float | None, fits: Fits, *, counted: bool
) -> list[str]:  # fmt: skip
    if not isinstance(ratio, Estimate):
        return []
    said = []
    if given is not None:
        inside = ratio.low <= given <= ratio.high
        said.append(
            f"the drive's ratio of {given:.3f} {'fits' if inside else 'does not fit'} the measured "
            f"{ratio.value:.2f} ({ratio.low:.2f} to {ratio.high:.2f})"
        )
    if not fits.count:
        said.append(
            "no teeth within two of those counted make that ratio"
            if counted
            else "no worm and no single pair of wheels makes that ratio: it has more stages"
        )
    elif fits.count > len(fits.nearest):
        said.append(f"{fits.count} whole-tooth ratios fit: only counting teeth tells them apart")
    return said
