"""Motor constants from volts, amps and speed, and what they say about the motor's health."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from outshop.bench.electrics import motor_verdict as verdicts
from outshop.bench.electrics.motor_fit import (
    USELESS,
    Fit,
    fit_field_coil,
    fit_permanent_magnet,
)
from outshop.bench.electrics.motor_points import Points
from outshop.bench.electrics.motor_verdict import Finding
from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable, Reading

Array = NDArray[np.float64]
Kind = Literal["permanent-magnet", "field-coil"]

METER_PERCENT = 0.5  # usual DC ranges of a hand meter (common practice)
NO_STALL = (
    "no point with the shaft held: hold it once, 1 to 2 s only because the winding heats within "
    "seconds, at low voltage"
)
_UNITS = {
    "resistance": "ohm",
    "constant": "V·s/rad",
    "friction_torque": "mN·m",
    "no_load_speed": "1/s",
    "light_current": "A",
    "stall_current": "A",
    "stall_torque": "mN·m",
    "starting_voltage": "V",
    "best_efficiency": "percent",
}


@dataclass(frozen=True, slots=True)
class MotorBench:
    """Constants of a motor.

    Parameters
    ----------
    resistance : Reading
        Armature, brushes and leads together, ohm.
    constant : Reading
        Speed constant k, V s/rad, equal to the torque constant in N m/A; of a field-coil
        motor the one at its light current.
    friction_torque, stall_torque : Reading
        mN m.
    no_load_speed : Reading
        At ``reference_v``, 1/s.
    light_current, stall_current : Reading
        At ``reference_v``, A.
    starting_voltage : Reading
        At which the motor just overcomes its friction, V.
    best_efficiency : Reading
        Percent; permanent magnet only.
    saturation : Reading
        b in k = a I/(1 + b I), 1/A; field coil only.
    reference_v : float
        Highest voltage of a running point, else of any.
    findings : tuple of Finding
        What it means.
    next_reading : str
        What would tell most next.
    kind : str
        ``permanent-magnet`` or ``field-coil``.
    warnings : tuple of str
        What a careful reader should know.
    """

    resistance: Reading
    constant: Reading
    friction_torque: Reading
    no_load_speed: Reading
    light_current: Reading
    stall_current: Reading
    stall_torque: Reading
    starting_voltage: Reading
    best_efficiency: Reading
    saturation: Reading
    reference_v: float
    findings: tuple[Finding, ...]
    next_reading: str
    kind: Kind
    warnings: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        """Give the contract's JSON shape."""
        return {
            **{name: getattr(self, name).as_json() for name in _UNITS},
            "saturation": self.saturation.as_json(),
            "reference_v": self.reference_v,
            "verdict": verdicts.sentences(self.findings),
            "findings": [f.id for f in self.findings],
            "next_reading": self.next_reading,
            "motor": self.kind,
            "warnings": list(self.warnings),
        }


def measure(
    given: Points,
    *,
    kind: Kind = "permanent-magnet",
    meter_percent: float = METER_PERCENT,
    winding_ohm: float | None = None,
    twin: Points | None = None,
    through_track: Points | None = None,
    wheel: tuple[float, float] | None = None,
) -> MotorBench:
    """Find a motor's constants.

    Parameters
    ----------
    given : Points
        See :func:`outshop.bench.electrics.motor_points.points`.
    kind : str
        ``permanent-magnet`` or ``field-coil``.
    meter_percent : float
        Common tolerance of the meters, percent of reading.
    winding_ohm : float, optional
        Resistance between opposite brushes computed from segment readings.
    twin : Points, optional
        The same readings of a healthy motor of the type.
    through_track : Points, optional
        The same motor fed through track and pick-up.
    wheel : tuple of float, optional
        Wheel turns a second at the fastest light point, and motor turns for one wheel turn.

    Raises
    ------
    InputError
        Unknown kind, or readings that no motor gives.
    """
    if kind not in ("permanent-magnet", "field-coil"):
        message = f"motor must be permanent-magnet or field-coil; got {kind!r}"
        raise InputError(message)
    readings = _constants(given, kind, meter_percent)
    found = verdicts.alone(
        given,
        readings["resistance"],
        readings["light_current"],
        readings["stall_current"],
        winding_ohm,
    )
    if kind == "field-coil":
        found = [f for f in found if f.id != "magnet-sense"]
    if twin is not None:
        found += _beside(readings, twin, kind, meter_percent)
        found += verdicts.speed_against_twin(given, twin) if kind == "field-coil" else []
    if wheel is not None and given.light.any():
        found.append(verdicts.drive_slip(float(given.rev_per_s[given.light].max()), *wheel)[1])
    if through_track is not None:
        track = _constants(through_track, kind, meter_percent)["resistance"]
        judged = verdicts.pick_up(readings["resistance"], track)
        found += [judged] if judged else []
    return MotorBench(
        **{name: readings[name] for name in _UNITS},
        saturation=readings["saturation"],
        reference_v=_reference(given),
        findings=tuple(found),
        next_reading=_next(given, kind, twin is not None),
        kind=kind,
        warnings=(*given.warnings, *_warnings(given)),
    )


def _beside(
    own: dict[str, Reading], twin: Points, kind: Kind, meter_percent: float
) -> list[Finding]:
    keys = ("resistance", "constant", "friction_torque")
    healthy = _constants(twin, kind, meter_percent)
    return verdicts.against_twin({k: own[k] for k in keys}, {k: healthy[k] for k in keys})


def _reference(given: Points) -> float:
    running = given.voltage_v[~given.stalled]
    return float((running if running.size else given.voltage_v).max())


def _constants(given: Points, kind: Kind, meter_percent: float) -> dict[str, Reading]:
    fit, reason = _fit(given, kind)
    if fit is None:
        return _without_fit(given, reason, meter_percent)
    volts = _reference(given)
    light = _light_current(given, fit, volts, meter_percent)
    gain = meter_percent / 100

    def reading(function: Callable[[Array], float], unit: str, *, meters: float) -> Reading:
        value = function(fit.values)
        half = math.hypot(fit.half_width(function), meters * gain * abs(value))
        if value <= 0 or half > USELESS * value:
            return NotMeasurable(f"the points leave it open: {half:.2g} beside {value:.2g}", unit)
        return Estimate.plus_minus(value, half, unit, method=fit.method)

    amps = light.value if isinstance(light, Estimate) else float(given.current_a.min())

    def flux(p: Array, current: float = amps) -> float:
        return float(p[1]) if len(p) == 2 else float(p[1] * current / (1 + p[2] * current))

    root2, root3 = math.sqrt(2), math.sqrt(3)
    none: Reading = NotMeasurable("no running point", "A")
    found: dict[str, Reading] = {
        "resistance": reading(lambda p: float(p[0]), "ohm", meters=root2),
        "constant": reading(flux, "V·s/rad", meters=1),
        "stall_current": reading(lambda p: volts / float(p[0]), "A", meters=root2),
        "stall_torque": reading(
            lambda p: 1e3 * flux(p, volts / float(p[0])) * volts / float(p[0]),
            "mN·m",
            meters=root3,
        ),
        "light_current": light if isinstance(light, Estimate) else none,
        "saturation": _saturation(fit),
    }
    return {**found, **_from_light(found, light, fit, flux, volts, kind)}


def _from_light(
    found: dict[str, Reading],
    light: Reading,
    fit: Fit,
    flux: Callable[..., float],
    volts: float,
    kind: Kind,
) -> dict[str, Reading]:
    """Give what follows from the light current and the constants."""
    names = ("friction_torque", "no_load_speed", "starting_voltage", "best_efficiency")
    if not isinstance(light, Estimate) or not isinstance(found["constant"], Estimate):
        reason = getattr(light, "reason", "") or getattr(found["constant"], "reason", "")
        return {name: NotMeasurable(reason, _UNITS[name]) for name in names}
    amps = light.value
    error = light.half_width / fit.quantile

    def reading(function: Callable[[Array, float], float], unit: str) -> Reading:
        value = function(fit.values, amps)
        slope = (function(fit.values, amps * 1.001) - value) / (amps * 0.001)
        half = fit.half_width(lambda p: function(p, amps), extra=(slope * error) ** 2)
        # the meters' common gain: in V and A, each to first order
        half = math.hypot(half, METER_PERCENT / 100 * abs(value))
        return Estimate(
            value, max(0.0, value - half), value + half, unit, method=f"{fit.method}; light current"
        )

    answers: dict[str, Reading] = {
        "friction_torque": reading(lambda p, i: 1e3 * flux(p, i) * i, "mN·m"),
        "no_load_speed": reading(
            lambda p, i: (volts - i * float(p[0])) / flux(p, i) / (2 * math.pi), "1/s"
        ),
        "starting_voltage": reading(lambda p, i: i * float(p[0]), "V"),
        "best_efficiency": NotMeasurable("only for permanent magnets", "percent"),
    }
    if kind == "permanent-magnet":
        answers["best_efficiency"] = reading(
            lambda p, i: 100 * (1 - math.sqrt(min(1.0, i * float(p[0]) / volts))) ** 2, "percent"
        )
    return answers


def _fit(given: Points, kind: Kind) -> tuple[Fit | None, str]:
    held = bool(given.stalled.any())
    if not (~given.stalled).any():
        return None, "no running point: let it run light and read volts, amps and speed"
    if given.voltage_v.size == 1:
        return None, NO_STALL
    if kind == "field-coil":
        return fit_field_coil(given), ""
    try:
        fit = fit_permanent_magnet(given)
    except InputError:
        if held:
            raise
        return None, NO_STALL  # light points alone hardly tell R from k
    if not held and fit.half_width(lambda p: float(p[0])) > USELESS * fit.values[0]:
        return None, NO_STALL
    return fit, ""


def _without_fit(given: Points, reason: str, meter_percent: float) -> dict[str, Reading]:
    """Give what stall points or running points alone tell."""
    found: dict[str, Reading] = {n: NotMeasurable(reason, unit) for n, unit in _UNITS.items()}
    found["saturation"] = NotMeasurable(reason, "1/A")
    held = given.stalled
    if held.any():
        ohms = given.voltage_v[held] / given.current_a[held]
        mean = float(ohms.mean())
        half = 1.96 * math.hypot(meter_percent / 100, 0.01) * math.sqrt(2) * mean
        if ohms.size > 1:
            half = max(half, float(np.ptp(ohms)) / 2)
        resistance = Estimate.plus_minus(mean, half, "ohm", method="volts over amps, held")
        volts = _reference(given)
        found["resistance"] = resistance
        found["stall_current"] = resistance.map(lambda r: volts / r, "A")
    light = given.light
    if light.any():
        top = int(np.flatnonzero(light)[np.argmax(given.voltage_v[light])])
        for name, value in (
            ("light_current", given.current_a[top]),
            ("no_load_speed", given.rev_per_s[top]),
        ):
            found[name] = Estimate.plus_minus(
                float(value), 0.02 * float(value), _UNITS[name], method="as read, 2 % assumed"
            )
    return found


def _light_current(given: Points, fit: Fit, volts: float, meter_percent: float) -> Reading:
    """Give the light current at the reference voltage, averaged if speed does not matter."""
    light = np.flatnonzero(given.light)
    if light.size == 0:
        return NotMeasurable("no running point", "A")
    amps, own = given.current_a[light], given.voltage_v[light]
    near = np.abs(own / volts - 1) < 0.05
    mean = float(amps.mean())
    relative = max(fit.reading_error, 1e-4)
    if np.ptp(amps) <= 4 * relative * mean:  # one friction at all speeds
        near = np.ones(amps.size, dtype=bool)
    value = float(amps[near].mean())
    half = fit.quantile * relative * value / math.sqrt(int(near.sum()))
    half = math.hypot(half, meter_percent / 100 * value)
    return Estimate.plus_minus(value, half, "A", method=f"mean of {int(near.sum())} light points")


def _saturation(fit: Fit) -> Reading:
    if "saturation" not in fit.names:
        return NotMeasurable("only for field-coil motors", "1/A")
    value = float(fit.values[2])
    half = fit.half_width(lambda p: float(p[2]))
    return Estimate(value, max(0.0, value - half), value + half, "1/A", method=fit.method)


def _next(given: Points, kind: Kind, has_twin: bool) -> str:
    """Name the reading that would tell most next."""
    if not given.stalled.any():
        return NO_STALL
    if not (~given.stalled).any():
        return "let it run light and read volts, amps and speed"
    if given.stalled.sum() < 3:
        return "hold the shaft at two more angles, 1 to 2 s each: a bad coil shows by the angle"
    if np.unique(np.round(given.voltage_v[given.light], 1)).size < 2:
        return "run light at half the voltage: friction that grows with speed is oil or fan"
    if kind == "field-coil" and (~given.stalled & ~given.light).sum() == 0:
        return "load it lightly (a finger's drag on the flywheel) and read again"
    if not has_twin:
        return "read a healthy twin at the same voltages"
    return "nothing more: repeat after ten minutes of running"


def _warnings(given: Points) -> list[str]:
    found = []
    if given.stalled.sum() == 1:
        found.append("one held point: its angle may hide a bad coil; read at three angles")
    return found


def speed_curve(bench: MotorBench, volts: float, count: int = 40) -> list[tuple[float, float]]:
    """Give the model's speed over current at a voltage, from light running to stall.

    Parameters
    ----------
    bench : MotorBench
        Whose resistance and constant could be measured.
    volts : float
        V.
    count : int
        Points of a field-coil motor's curve; a permanent magnet's is a straight line.

    Returns
    -------
    list of (current, speed)
        A and turns a second; empty where the constants are unknown.
    """
    r, k, light, b = bench.resistance, bench.constant, bench.light_current, bench.saturation
    if not (isinstance(r, Estimate) and isinstance(k, Estimate)):
        return []
    stall = volts / r.value
    if bench.kind == "permanent-magnet":
        return [(0.0, volts / k.value / (2 * math.pi)), (stall, 0.0)]
    if not (isinstance(light, Estimate) and isinstance(b, Estimate)):
        return []
    slope = k.value * (1 + b.value * light.value) / light.value
    amps = np.linspace(min(0.8 * light.value, stall), stall, count)
    flux = slope * amps / (1 + b.value * amps)
    speed = (volts - amps * r.value) / flux / (2 * math.pi)
    return [(float(a), max(0.0, float(n))) for a, n in zip(amps, speed, strict=True)]
