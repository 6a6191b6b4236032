"""From a filled form to what it means: the same library calls as on the command line."""

import hashlib
import math
import re
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from outshop.bench.electrics import motor, winding
from outshop.bench.electrics.current import measure_file
from outshop.bench.electrics.motor_points import points
from outshop.bench.electrics.reversing import judge as judge_reversing
from outshop.bench.gauges import proportions, pull, rolling, wheels
from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable, Reading
from outshop.pages.meter.forms import MOTOR_ROWS
from outshop.railway.scales import scale as find_scale
from outshop.records.models import Piece
from outshop.reports.meter_drawings import armature, speed_lines

EMPTY = SafeString("")
_MOTOR_KEYS = (
    "resistance", "constant", "friction_torque", "no_load_speed", "light_current",
    "stall_current", "starting_voltage", "best_efficiency",
)  # fmt: skip
_CURRENT_KEYS = (
    "running_current", "starting_peak", "stalled_current", "slip_current", "drift",
    "ripple_frequency", "dip_rate",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Answer:
    """What typed readings mean.

    Parameters
    ----------
    readings : mapping of str to Reading
        By key of the quantity.
    verdict : str
        One line on top; empty for none.
    good : bool or None
        Whether the verdict is good; None where it is neither.
    says : tuple of str
        Sentences, most important first.
    drawing : SafeString
        SVG; empty for none.
    following : str
        The next most useful reading within this topic.
    findings : tuple of str
        Stable ids for what was found.
    result : mapping
        The bench's JSON, kept with the measurements.
    """

    readings: Mapping[str, Reading]
    verdict: str = ""
    good: bool | None = None
    says: tuple[str, ...] = ()
    drawing: SafeString = EMPTY
    following: str = ""
    findings: tuple[str, ...] = ()
    result: Mapping[str, Any] = field(default_factory=dict)


def answer(topic: str, cleaned: Mapping[str, Any], piece: Piece) -> Answer | None:
    """Say what the readings of a topic mean; None while nothing is typed.

    Raises
    ------
    InputError
        Readings that cannot be.
    """
    return _ANSWERS[topic](cleaned, piece)


def _motor(cleaned: Mapping[str, Any], _piece: Piece) -> Answer | None:
    rows, names = [], []
    per = 1 / 60 if cleaned.get("speed_unit") == "rpm" else 1.0
    for key, name in MOTOR_ROWS:
        volts, amps = cleaned.get(f"{key}_v"), cleaned.get(f"{key}_a")
        if volts is not None and amps is not None:
            rows.append((volts, amps, (cleaned.get(f"{key}_n") or 0.0) * per))
            names.append(name)
    if not rows:
        return None
    try:
        given = points(*map(list, zip(*rows, strict=True)))
    except InputError as problem:
        raise InputError(_by_name(str(problem), names)) from problem
    kind: motor.Kind = "permanent-magnet"
    if cleaned.get("kind") == "field-coil":
        kind = "field-coil"
    bench = motor.measure(given, kind=kind)
    running = sorted({abs(v) for v, _, n in rows if n}) or [bench.reference_v]
    curves = {v: motor.speed_curve(bench, v) for v in running}
    light = bench.light_current
    drawing = EMPTY
    if all(curves.values()):
        drawing = _safe(
            speed_lines(
                curves,
                [(abs(v), abs(a), abs(n)) for v, a, n in rows],
                light.value if isinstance(light, Estimate) else None,
            )
        )
    readings = {key: getattr(bench, key) for key in _MOTOR_KEYS}
    if kind == "field-coil":
        readings["saturation"] = bench.saturation
        del readings["best_efficiency"]
    return Answer(
        readings,
        says=(*(f.sentence for f in bench.findings), *bench.warnings),
        drawing=drawing,
        following=bench.next_reading,
        findings=tuple(f.id for f in bench.findings),
        result=bench.as_json(),
    )


def _by_name(sentence: str, names: list[Any]) -> str:
    """Call a point by the name of its line on the page."""
    number = re.match(r"point (\d+)", sentence)
    if not number:
        return sentence
    return f"“{names[int(number[1]) - 1]}”{sentence[number.end() :]}"


def _winding(cleaned: Mapping[str, Any], _piece: Piece) -> Answer | None:
    names = sorted(
        (n for n in cleaned if n[0] == "r" and n[1:].isdigit()), key=lambda n: int(n[1:])
    )
    typed = [cleaned[n] for n in names]
    if not any(typed):
        return None
    if not all(typed):
        raise InputError(_("Read every pair of neighbouring segments once: some are still empty."))
    values, step = winding.read_ohms(typed)
    lead = winding.read_ohms([cleaned["lead"]])[0][0] if cleaned.get("lead") else 0.0
    shaft = winding.read_ohms([cleaned["shaft"]])[0] if cleaned.get("shaft") else []
    bench = winding.measure(
        values,
        connection=cleaned.get("connection") or "delta",
        lead=lead,
        step=step,
        temperature_c=cleaned.get("temperature_c"),
        to_shaft=shaft,
    )
    labels = [f"{c.value:.3g} Ω" if isinstance(c, Estimate) else "?" for c in bench.coils]
    says = list(bench.warnings)
    if bench.insulation != "not measured":
        says.append(_("Insulation to the shaft: %(state)s") % {"state": bench.insulation})
    coils = ", ".join(map(str, bench.suspect))
    words = {"even": _("Even"), "uneven": _("Uneven"), "open": _("Open"), "shorted": _("Shorted")}
    verdict = words[bench.verdict] + (f": {_('coil')} {coils}" if coils else "")
    return Answer(
        {f"coil_{k}": c for k, c in enumerate(bench.coils, start=1)},
        verdict=verdict,
        good=bench.verdict == "even",
        says=tuple(says),
        drawing=_safe(armature(labels, bench.suspect, bench.connection)),
        following="" if shaft else _("a segment against the shaft: the insulation"),
        findings=() if bench.verdict == "even" else (f"winding-{bench.verdict}",),
        result=bench.as_json(),
    )


def _wheels(cleaned: Mapping[str, Any], _piece: Piece) -> Answer | None:
    given = {name: cleaned.get(name) or [] for name in wheels.WORDS}
    run_out = cleaned.get("run_out_mm")
    if not any(given.values()) and run_out is None:
        return None
    if not cleaned.get("gauge_mm"):
        raise InputError(_("Give the track gauge: limits go by it."))
    bench = wheels.measure(
        cleaned.get("standard") or "NEM310", cleaned["gauge_mm"], given, run_out_mm=run_out
    )
    readings: dict[str, Reading] = {c.name: c.value for c in bench.checks}
    readings["wobble"] = bench.wobble
    worst = max((c.by_mm for c in bench.checks), default=0.0)
    verdict = _("In") if bench.verdict == "in" else _("Out by %(mm).2f mm") % {"mm": worst}
    return Answer(
        readings,
        verdict=verdict,
        good=bench.verdict == "in" and not bench.advice,
        says=(*bench.advice, *bench.warnings),
        following=""
        if len(given["back_to_back"]) > 2
        else _("the back-to-back at three angles: a bent axle shows"),
        findings=tuple(f"{c.name}-{c.side}" for c in bench.checks if c.verdict == "out"),
        result=bench.as_json(),
    )


def _rolling(cleaned: Mapping[str, Any], _piece: Piece) -> Answer | None:
    if cleaned.get("tilt_deg"):
        found = rolling.from_tilt(cleaned["tilt_deg"])
    elif cleaned.get("heights_mm"):
        found = rolling.from_slope(cleaned["heights_mm"], cleaned.get("base_mm") or math.nan)
    elif cleaned.get("distances_mm"):
        found = rolling.from_ramp(
            cleaned["distances_mm"],
            cleaned.get("ramp_height_mm") or math.nan,
            cleaned.get("ramp_mm") or math.nan,
        )
    elif cleaned.get("speeds_m_s"):
        found = rolling.from_coasting(cleaned["speeds_m_s"], cleaned.get("coasted_mm") or [])
    else:
        return None
    words = rolling.judgement(found)
    return Answer(
        {"rolling": found},
        verdict=words[:1].upper() + words[1:],
        good=found.high < rolling.FREE_PERMILLE,
        says=found.warnings,
        findings=("rolls-hard",) if found.low > rolling.FREE_PERMILLE else (),
        result={"rolling": found.as_json()},
    )


def _pull(cleaned: Mapping[str, Any], piece: Piece) -> Answer | None:
    if cleaned.get("weights_g"):
        found = pull.from_weights(cleaned["weights_g"], step_g=cleaned.get("step_g") or 5.0)
    elif cleaned.get("spring_n"):
        found = pull.from_spring(cleaned["spring_n"])
    elif cleaned.get("pulled_g"):
        found = pull.from_letter_scale(cleaned.get("rest_g") or 0.0, cleaned["pulled_g"])
    else:
        return None
    bench = pull.judge(
        found,
        mass_g=cleaned.get("mass_g"),
        driven_mass_g=cleaned.get("driven_mass_g"),
        limit=cleaned.get("limit") or "unknown",
        tyres={"yes": True, "no": False}.get(cleaned.get("tyres") or ""),
        slip_current=_latest(piece, "slip_current"),
        stall_current=_latest(piece, "stall_current"),
    )
    return Answer(
        {"pull": bench.pull_g, "adhesion": bench.adhesion, "share_of_mass": bench.share_of_mass},
        says=(*bench.sentences, *found.warnings),
        following=""
        if isinstance(bench.adhesion, Estimate)
        else _("the weight on the driven wheels: put only them on the scale"),
        result=bench.as_json(),
    )


def _latest(piece: Piece, key: str) -> Reading | None:
    found = piece.measurements.filter(key=key, value__isnull=False).first()
    return found.reading if found else None


def _reversing(cleaned: Mapping[str, Any], _piece: Piece) -> Answer | None:
    throws, at = cleaned.get("throws") or "", cleaned.get("pull_in_v")
    if not throws and at is None and cleaned.get("supply_pulse_v") is None:
        return None
    if throws != "no" and at is None:
        raise InputError(_("Give the voltage at which it throws, or say that it does not throw."))
    bench = judge_reversing(
        pull_in_v=None if throws == "no" else at,
        release_v=cleaned.get("release_v"),
        delay_s=cleaned.get("delay_s"),
        supply_pulse_v=cleaned.get("supply_pulse_v"),
    )
    good = [f.id for f in bench.findings] == ["good"]
    readings: dict[str, Reading] = {"pull_in_voltage": NotMeasurable(_("it does not throw"), "V")}
    if throws != "no" and at is not None:  # a hand meter on alternating current: 2 %
        readings = {"pull_in_voltage": Estimate.plus_minus(at, 0.02 * at, "V", method="hand meter")}
    return Answer(
        readings,
        verdict=_("Within NEM 640") if good else _("Outside NEM 640"),
        good=good,
        says=() if good else tuple(f.sentence for f in bench.findings),
        findings=() if good else tuple(f.id for f in bench.findings),
        result=bench.as_json(),
    )


def _size(cleaned: Mapping[str, Any], piece: Piece) -> Answer | None:
    names = ("length", "height", "wheel_diameter", "wheelbase")
    pairs = {
        n: (cleaned[f"{n}_mm"], cleaned[f"full_{n}_mm"])
        for n in names
        if cleaned.get(f"{n}_mm") is not None and cleaned.get(f"full_{n}_mm") is not None
    }
    mass, length = cleaned.get("wagon_mass_g"), cleaned.get("length_mm")
    if not pairs and (mass is None or length is None):
        return None
    of = find_scale(piece.known_scale or "")
    masses = (
        proportions.check_mass(mass, length, of.name)
        if mass is not None and length is not None
        else []
    )
    sizes = proportions.check_proportions(pairs, of)
    says = [f"{m.rule.source}: {m.rule.mass_g:.0f} g, {m.verdict}" for m in masses]
    says += [
        f"{s.name.replace('_', ' ')}: 1:{s.effective_ratio.value:.1f}, {s.meaning}: {s.why}"
        for s in sizes
    ]
    readings: dict[str, Reading] = {f"{s.name}_error": s.error_percent for s in sizes}
    if mass is not None:
        readings["mass"] = Estimate.plus_minus(mass, 1.0, "g", method="letter scale")
    return Answer(
        readings,
        says=tuple(says),
        findings=tuple(f"{s.name}-off" for s in sizes if s.meaning == "off scale"),
        result={
            "mass": [m.as_json() for m in masses],
            "proportions": [s.as_json() for s in sizes],
        },
    )


def _current(cleaned: Mapping[str, Any], piece: Piece) -> Answer | None:
    log = cleaned.get("log")
    if not log:
        return None
    poles = (piece.known_drive or {}).get("armature_poles")
    digest = hashlib.sha256()
    with tempfile.NamedTemporaryFile(suffix=".csv", prefix="outshop-log-") as kept:
        for chunk in log.chunks():
            digest.update(chunk)
            kept.write(chunk)
        kept.flush()
        bench = measure_file(
            Path(kept.name),
            supply=cleaned.get("supply") or None,
            duty=cleaned.get("duty"),
            poles=poles if isinstance(poles, int) else None,
            true_rms=cleaned.get("supply") in ("full-wave", "half-wave"),
        )
    readings = {key: getattr(bench, key) for key in _CURRENT_KEYS}
    if poles:
        readings["motor_speed"] = bench.motor_speed
    spans = [f"{p.state} {p.start_s:.1f} to {p.end_s:.1f} s" for p in bench.phases[:12]]
    return Answer(
        readings,
        says=(*bench.warnings, "; ".join(spans), bench.supply),
        result={**bench.as_json(), "sha256": digest.hexdigest()},
    )


def _safe(svg: str) -> SafeString:
    return mark_safe(svg)  # noqa: S308 - drawn by reports, which escapes every word


_ANSWERS: dict[str, Callable[[Mapping[str, Any], Piece], Answer | None]] = {
    "motor": _motor,
    "winding": _winding,
    "wheels": _wheels,
    "rolling": _rolling,
    "pull": _pull,
    "reversing": _reversing,
    "size": _size,
    "current": _current,
}
