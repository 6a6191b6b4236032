"""Wheel sets against a standard: in, or out by how much, and what to do."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from outshop.bench.readings import positive
from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable, Reading
from outshop.railway.wheel_standards import QUANTITIES, Limit, WheelStandard, wheel_standard

CALIPER_MM = 0.03  # 95 % error of one caliper reading by hand (common practice)
BENT_SHARE = 0.0065  # of the gauge: 0.1 mm in H0 between three angles (common practice)
RUN_OUT_SHARE = 0.003  # of the gauge: 0.05 mm in H0 (common practice)
WORDS = {
    "back_to_back": "back-to-back",
    "check_gauge": "check gauge",
    "flange_height": "flange height",
    "flange_thickness": "flange thickness",
    "tyre_width": "tyre width",
}
_TODO = {
    ("back_to_back", "below"): "draw the wheels apart by {by:.2f} mm, half on each side, with a "
    "puller; on coupled axles mark the quartering first",
    ("back_to_back", "above"): "press the wheels together by {by:.2f} mm, half on each side; on "
    "coupled axles mark the quartering first",
    ("check_gauge", "below"): "widen the set by {by:.2f} mm; look at the flange for wear",
    ("check_gauge", "above"): "narrow the set by {by:.2f} mm, or it strikes frogs",
    (
        "flange_height",
        "below",
    ): "too low to guide by {by:.2f} mm: change the wheel",
    ("flange_height", "above"): "strikes rail fastenings by {by:.2f} mm: turn down on a lathe or "
    "run on taller rail",
    ("flange_thickness", "below"): "thin by {by:.2f} mm: worn, change the wheel",
    (
        "flange_thickness",
        "above",
    ): "thick by {by:.2f} mm: it binds in flangeways; turn down",
    ("tyre_width", "below"): "narrow by {by:.2f} mm: it drops into frogs; keep off such turnouts",
    ("tyre_width", "above"): "wide by {by:.2f} mm: it may strike platforms; usual on old stock",
}


@dataclass(frozen=True, slots=True)
class WheelCheck:
    """One measure against its limit.

    Parameters
    ----------
    name : str
        One of the standard's quantities.
    value : Estimate
        Mean of the readings, mm.
    limit : Limit
        Range and source.
    verdict : str
        ``in`` or ``out``, judged by the reading that is farthest out.
    side : str
        ``below``, ``above`` or empty.
    by_mm : float
        How far the worst reading lies outside, 0 if in.
    what_to_do : str
        Empty if in.
    """

    name: str
    value: Estimate
    limit: Limit
    verdict: Literal["in", "out"]
    side: str
    by_mm: float
    what_to_do: str

    def as_json(self) -> dict[str, Any]:
        """Give the JSON shape."""
        return {
            "name": self.name,
            "value": self.value.as_json(),
            "limits": {"low": self.limit.low_mm, "high": self.limit.high_mm},
            "verdict": self.verdict,
            "side": self.side,
            "by_mm": self.by_mm,
            "what_to_do": self.what_to_do,
            "source": self.limit.source,
            "note": self.limit.note,
        }


@dataclass(frozen=True, slots=True)
class WheelBench:
    """One wheel set judged.

    Parameters
    ----------
    standard : WheelStandard
        What it was judged by.
    gauge_mm : float
        As asked for.
    checks : tuple of WheelCheck
        One a measure given.
    wobble : Reading
        Largest minus smallest back-to-back over the angles, mm.
    run_out : Reading
        As read on a dial, mm.
    verdict : str
        ``in`` or ``out``.
    advice : tuple of str
        What to do, in order.
    warnings : tuple of str
        What a careful reader should know.
    """

    standard: WheelStandard
    gauge_mm: float
    checks: tuple[WheelCheck, ...]
    wobble: Reading
    run_out: Reading
    verdict: Literal["in", "out"]
    advice: tuple[str, ...]
    warnings: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        """Give the JSON shape."""
        return {
            "standard": self.standard.name,
            "edition": self.standard.edition,
            "size": self.standard.size,
            "gauge_mm": self.gauge_mm,
            "checks": [c.as_json() for c in self.checks],
            "wobble_mm": self.wobble.as_json(),
            "run_out_mm": self.run_out.as_json(),
            "verdict": self.verdict,
            "advice": list(self.advice),
            "warnings": list(self.warnings),
        }


def measure(
    standard: str,
    gauge_mm: float,
    readings: Mapping[str, Sequence[float]],
    *,
    size: str = "",
    run_out_mm: float | None = None,
    caliper_mm: float = CALIPER_MM,
) -> WheelBench:
    """Judge one wheel set.

    Parameters
    ----------
    standard : str
        ``NEM310``, ``NEM310:1977``, ``S-4.2``, ``RP-25``.
    gauge_mm : float
        Track gauge, mm.
    readings : mapping of str to sequence of float
        Keys of ``QUANTITIES``; back-to-back best at three angles, mm.
    size : str
        Scale or contour code where the gauge has several.
    run_out_mm : float, optional
        Dial reading over one turn.
    caliper_mm : float
        95 % error of one reading.

    Raises
    ------
    InputError
        Nothing given, an unknown measure, or one that cannot be.
    """
    rows = wheel_standard(standard, positive(gauge_mm, "the gauge", "mm"), size)
    if not any(readings.values()) and run_out_mm is None:
        message = "give at least one measure, such as the back-to-back at three angles"
        raise InputError(message)
    checks: list[WheelCheck] = []
    warnings: list[str] = []
    for name, values in readings.items():
        if not values:
            continue
        _refuse_absurd(name, values, gauge_mm)
        limit = rows.limit(name)
        if limit is None:
            warnings.append(f"{standard} sets no limit for the {WORDS[name]}")
            continue
        checks.append(_check(name, values, limit, caliper_mm))
    warnings += [c.limit.note for c in checks if "memory" in c.limit.note]
    warnings += _close_calls(checks)
    wobble = _wobble(readings.get("back_to_back", ()), caliper_mm)
    run_out = _run_out(run_out_mm, caliper_mm)
    advice = [c.what_to_do for c in checks if c.what_to_do]
    advice += _true_running(wobble, run_out, gauge_mm)
    out = any(c.verdict == "out" for c in checks)
    return WheelBench(
        rows,
        gauge_mm,
        tuple(checks),
        wobble,
        run_out,
        "out" if out else "in",
        tuple(advice),
        tuple(dict.fromkeys(warnings)),
    )


def _refuse_absurd(name: str, values: Sequence[float], gauge_mm: float) -> None:
    if name not in QUANTITIES:
        message = f"{name!r} is no measure of a wheel set: use {', '.join(QUANTITIES)}"
        raise InputError(message)
    for value in values:
        positive(value, f"the {WORDS[name]}", "mm")
        wide = name in ("back_to_back", "check_gauge")
        if (wide and not 0.6 * gauge_mm < value < 1.1 * gauge_mm) or (
            not wide and value > 0.6 * gauge_mm
        ):
            message = (
                f"a {WORDS[name]} of {value:g} mm does not belong to {gauge_mm:g} mm gauge: "
                "check the figure and the gauge"
            )
            raise InputError(message)


def _check(name: str, values: Sequence[float], limit: Limit, caliper_mm: float) -> WheelCheck:
    mean = sum(values) / len(values)
    # the caliper's own error does not average out over readings of the same place
    value = Estimate.plus_minus(
        mean, caliper_mm, "mm", method=f"mean of {len(values)} caliper readings"
    )
    below = (limit.low_mm - min(values)) if limit.low_mm is not None else 0.0
    above = (max(values) - limit.high_mm) if limit.high_mm is not None else 0.0
    by = max(below, above)
    if by <= 1e-9:  # decimals of both do not add up exactly
        return WheelCheck(name, value, limit, "in", "", 0.0, "")
    side = "below" if below >= above else "above"
    todo = _TODO[name, side].format(by=by)
    return WheelCheck(name, value, limit, "out", side, round(by, 6), todo)


def _close_calls(checks: Sequence[WheelCheck]) -> list[str]:
    found = []
    for check in checks:
        ends = [x for x in (check.limit.low_mm, check.limit.high_mm) if x is not None]
        if any(abs(check.value.value - end) < check.value.half_width for end in ends):
            found.append(
                f"{WORDS[check.name]} lies within the caliper's error of the limit: read again"
            )
    return found


def _wobble(values: Sequence[float], caliper_mm: float) -> Reading:
    if len(values) < 2:
        return NotMeasurable("wobble needs the back-to-back at two angles or more", "mm")
    spread = max(values) - min(values)
    half = 1.4142 * caliper_mm  # a difference of two readings
    return Estimate(
        spread, max(0.0, spread - half), spread + half, "mm", method="largest minus smallest"
    )


def _run_out(given: float | None, caliper_mm: float) -> Reading:
    if given is None:
        return NotMeasurable("no dial reading given", "mm")
    if given < 0:
        message = f"run-out is the swing of the dial and cannot be negative; got {given:g}"
        raise InputError(message)
    return Estimate(given, max(0.0, given - caliper_mm), given + caliper_mm, "mm", method="dial")


def _true_running(wobble: Reading, run_out: Reading, gauge_mm: float) -> list[str]:
    found = []
    if isinstance(wobble, Estimate) and wobble.value > BENT_SHARE * gauge_mm:
        found.append(
            f"back-to-back differs by {wobble.value:.2f} mm over the angles: axle bent or wheel "
            "askew; roll the axle on glass, press the wheel square"
        )
    if isinstance(run_out, Estimate) and run_out.value > RUN_OUT_SHARE * gauge_mm:
        found.append(f"run-out of {run_out.value:.2f} mm will show as waddle: true the wheel")
    return found
