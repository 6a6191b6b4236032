"""What follows once the motor's speed is known: orders, wheel turns, squeal, crackle, hum."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from outshop.bench.sound import noise, resonance, turn
from outshop.bench.sound.bandwise import common_modulation
from outshop.bench.sound.digest import Float32Array
from outshop.bench.sound.drive import Drive
from outshop.bench.sound.evidence import explainable_orders, peaks
from outshop.bench.sound.families import describe, find_families, find_rates
from outshop.bench.sound.filters import highpassed
from outshop.bench.sound.hum import Tone, find_hum, without_tones
from outshop.bench.sound.motor import Heard, Motor
from outshop.bench.sound.names import named_orders
from outshop.bench.sound.orders import SINE, order_table
from outshop.bench.sound.spectrum import LogAxis, whitened
from outshop.bench.sound.speed import HOP_S
from outshop.bench.sound.stretch import Stretch
from outshop.bench.sound.warp import HIGHPASS_HZ
from outshop.estimate import Estimate, NotMeasurable, Reading

SQUEAL_WINDOW_S = 0.06  # as the tracker's longer window
TRACK_STEP = 5  # every 50 ms of the track is handed on; ours
LEAST_SWING = 0.5  # percent; a smaller swing moves no tone off its place; ours
MOVING_SHARE = 0.006  # a change of speed that shifts a line by more than its width; ours
NO_SPEED = "the motor's speed was not found"


def speeds_from(motor: Reading, drive: Drive | None) -> tuple[Reading, Reading]:
    """Turn the motor speed into wheel turns (1/s) and scale speed (km/h)."""
    if not isinstance(motor, Estimate):
        return NotMeasurable(motor.reason, "1/s"), NotMeasurable(motor.reason, "km/h")
    wheel = drive.wheel_rate(motor) if drive else None
    if drive is None or wheel is None:
        reason = "the ratio of the drive is not known: give the stages or the ratio"
        return NotMeasurable(reason, "1/s"), NotMeasurable(reason, "km/h")
    factor = drive.kmh_per_motor_rate()
    if factor is None:
        reason = "wheel diameter or scale is not known"
        return wheel, NotMeasurable(reason, "km/h")
    return wheel, motor.map(lambda x: x * factor, "km/h")


def inferred_ratio(motor: Motor, drive: Drive | None, scale_speed_km_h: float | None) -> Reading:
    """Infer the ratio from the motor's speed by sound and a scale speed known otherwise."""
    if scale_speed_km_h is None:
        return NotMeasurable("no speed from outside the recording was given", "")
    if not isinstance(motor.speed, Estimate):
        return NotMeasurable(motor.speed.reason, "")
    if drive is None or drive.wheel_diameter_mm is None or drive.scale is None:
        return NotMeasurable("wheel diameter and scale are needed for the ratio", "")
    metres_per_s = scale_speed_km_h / 3.6 / drive.scale
    wheel_rate = metres_per_s / (np.pi * drive.wheel_diameter_mm / 1000)
    return motor.speed.map(lambda x: float(x / wheel_rate), "").with_note(
        "the interval holds the motor's speed only, not the error of the speed given"
    )


def details(
    motor: Motor,
    drive: Drive | None,
    running: list[Stretch],
    still: list[Stretch],
    full_scale_db: float | None,
) -> dict[str, Any]:
    """Give the fields of a sound bench that rest on the running stretches."""
    out: dict[str, Any] = {}
    longest = max(running, key=lambda s: s.samples.size, default=None)
    if longest is not None:
        out["crackle"] = noise.crackle(longest.samples, longest.rate)
        known = [h.hum for h in motor.heard if h.stretch is longest]
        hum = known[0] if known else find_hum(longest.samples, longest.rate)
        out["steady_tones"] = _tones(hum, full_scale_db)
        if motor.main is None:
            out["families"] = describe(find_families(longest), find_rates(longest), drive)
    main = motor.main
    if main is None or main.best is None or drive is None:
        missing = NotMeasurable(NO_SPEED, "percent")
        out |= {"wheel_turn_modulation": missing, "speed_swing": missing}
        out["squeal"] = NotMeasurable(f"{NO_SPEED}: a squeal cannot be told from orders", "dB")
        out["fixed_resonances_note"] = (
            f"{NO_SPEED}: what stays where it is cannot be told from what moves with it"
        )
        return out
    out["orders"] = order_table(main.best, drive, full_scale_db)
    out["track"] = _track(motor.heard)
    out["squeal"] = _squeal(main, drive)
    out |= resonance_fields(main, out["orders"], still)
    return out | turn_fields(main, drive, still)


def _tones(hum: tuple[Tone, ...], full_scale_db: float | None) -> tuple[Mapping[str, Any], ...]:
    offset = SINE + (full_scale_db or 0.0)
    return tuple(
        {
            "name": f"mains hum {round(tone.frequency_hz)} Hz",
            "frequency_hz": tone.frequency_hz,
            "level_db": tone.level_db + offset,
            "prominence_db": tone.prominence_db,
        }
        for tone in hum
    )


def _track(heard: tuple[Heard, ...]) -> tuple[Mapping[str, float], ...]:
    out = []
    for one in heard:
        if one.best is None:
            continue
        picks = slice(None, None, TRACK_STEP)
        pairs = zip(one.times[picks], one.best.speed[picks], strict=True)
        out += [{"t_s": round(float(t), 3), "motor_speed": round(float(v), 4)} for t, v in pairs]
    return tuple(out)


def _squeal(main: Heard, drive: Drive) -> Reading:
    assert main.best is not None
    steady = main.best.steady
    rate = main.stretch.rate
    samples = without_tones(main.stretch.samples, rate, main.hum)
    samples = samples[int(steady.start * HOP_S * rate) : int(steady.stop * HOP_S * rate)]
    axis = LogAxis.up_to(0.45 * rate, noise.SQUEAL_BAND_HZ[0])
    excess = whitened(samples, rate, SQUEAL_WINDOW_S, HOP_S, axis)
    frames = min(len(excess), main.best.speed.size)
    orders = explainable_orders(drive, named_orders(drive))
    best = main.best
    notes: tuple[str, ...] = ()
    if float(np.std(best.speed)) > MOVING_SHARE * best.mean:
        # what keeps its order while the speed moves is no squeal, even if the drive lacks it
        lines = peaks(best.spectrum, best.lines.threshold_db, noise.SQUEAL_BAND_HZ[0], 0.45 * rate)
        orders = np.concatenate([orders, best.spectrum.frequency_hz[lines] / best.mean])
    else:
        notes = ("the speed is too even to tell a squeal from an order that is not in the drive",)
    found = noise.squeal(excess[:frames], axis, main.best.speed[:frames], orders, HOP_S)
    return found.with_note(*notes) if isinstance(found, Estimate) else found


def resonance_fields(
    main: Heard, orders: tuple[Mapping[str, Any], ...], still: list[Stretch]
) -> dict[str, Any]:
    """Give the fields of a sound bench that tell what rings wherever the speed goes."""
    assert main.best is not None
    rate, best = main.stretch.rate, main.best
    samples = without_tones(main.stretch.samples, rate, main.hum)
    samples = samples[int(best.steady.start * HOP_S * rate) : int(best.steady.stop * HOP_S * rate)]
    room = room_alone(still, rate)
    span = resonance.speed_span(best.speed)
    found = resonance.find_resonances(samples, rate, best.speed, HOP_S, room)
    return {
        "fixed_resonances": resonance.as_rows(found, orders, span),
        "fixed_resonances_note": resonance.why_untold(best.speed, HOP_S),
    }


def turn_fields(main: Heard, drive: Drive, still: list[Stretch]) -> dict[str, Any]:
    """Give the fields of a sound bench that go by the wheel turn."""
    assert main.best is not None
    if drive.ratio is None:
        missing = NotMeasurable("the ratio of the drive is not known", "percent")
        return {"wheel_turn_modulation": missing, "speed_swing": missing}
    best = main.best
    rate = best.mean / drive.ratio
    turns = turn.wheel_turns(best.even, rate)
    swing = turn.speed_swing(best.speed, HOP_S, drive.ratio)
    depth = swing.depth
    if isinstance(depth, Estimate) and depth.low > LEAST_SWING:
        room = room_alone(still, best.even.rate)
        loudness = common_modulation(best.even, rate, room, best.even.rate)
    else:
        power = _room_power(still, best.even.rate)
        loudness = turn.loudness_modulation(turns, power, rate).depth
    return {
        "wheel_turn_modulation": loudness,
        "speed_swing": swing.depth,
        "turn_envelope": turn.turn_envelope(turns),
        "thumps": tuple(
            {"angle_deg": t.angle_deg, "height_db": t.height_db, "chance": t.chance}
            for t in turn.find_thumps(turns)
        ),
    }


def room_alone(still: list[Stretch], rate: float) -> Float32Array | None:
    """Give the longest still stretch at a rate, its hum taken off; None without one."""
    room = max((s.samples for s in still if s.rate == rate), key=len, default=None)
    return None if room is None else without_tones(room, rate, find_hum(room, rate))


def _room_power(still: list[Stretch], rate: float) -> float | None:
    """Mean square of the room in the envelope's band; None without still time."""
    parts = [
        np.square(highpassed(quiet, rate, HIGHPASS_HZ, 2))
        for quiet in (
            without_tones(s.samples, rate, find_hum(s.samples, rate))
            for s in still
            if s.rate == rate
        )
    ]
    return float(np.concatenate(parts).mean()) if parts else None
