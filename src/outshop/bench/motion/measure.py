"""One clip -> all figures of motion."""

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from outshop.bench.motion.choose_ruler import (
    choose_ruler,
    length_remark,
    model_length,
    row_of,
    strip_for,
)
from outshop.bench.motion.directions import Pass, within_clip
from outshop.bench.motion.footage import Footage
from outshop.bench.motion.kinematics import (
    Span,
    acceleration,
    fall_time,
    mean_speed,
    moving_spans,
    place_noise,
    ripple,
    speed_curve,
    start_time,
    steady_parts,
    stop_time,
)
from outshop.bench.motion.lamp import Region, check_region
from outshop.bench.motion.moments import start_delay, start_moments, start_times
from outshop.bench.motion.result import MotionBench, Steady, TrackPoint
from outshop.bench.motion.ruler import Ruler, check_marks
from outshop.bench.motion.setup import Setup, setup_from_table
from outshop.bench.motion.track import Trail, find_trail
from outshop.estimate import Estimate, NotMeasurable, Reading
from outshop.media.limits import DEFAULT, Limits
from outshop.railway.scales import scale_speed_km_h

__all__ = ["Setup", "measure_clip", "setup_from_table", "with_ruler"]
Floats = NDArray[np.float64]
_CURVE_S = 0.2  # window of the drawn speed curve (our choice)
_EDGE_SHARE = 0.15  # of the time in which it gains speed, at either end
_SLOWER = 0.9  # of the steady speed: below it, it is slowing down
_SLOW_PX = 0.05  # standard error of a place that its neighbours share, working pixels
_WORDS = {1: "left_to_right", -1: "right_to_left"}
_Z = 1.959964  # normal 97.5 % quantile


def measure_clip(
    path: Path | str,
    setup: Setup,
    limits: Limits = DEFAULT,
    progress: Callable[[float], None] | None = None,
) -> MotionBench:
    """Measure a clip.

    Parameters
    ----------
    path : path-like
        Side view with a camera that stands still.
    setup : Setup
        Ruler, scale and marked moments.
    limits : Limits
        What the file may ask for.
    progress : callable, optional
        Told the share done, 0 to 1.

    Returns
    -------
    MotionBench
        All figures; what cannot be had says why.

    Raises
    ------
    InputError
        The ruler cannot be used.
    MediaError
        The clip cannot be used: damaged, black, camera moves, nothing or two things move.
    """
    told = progress or (lambda _share: None)
    setup = setup.checked()
    with Footage(Path(path), limits) as footage:
        told(0.05)
        head = footage.head
        if setup.marks is not None:
            check_marks(setup.marks, head.source_width, head.source_height)
        if isinstance(setup.lamp, Region):
            check_region(setup.lamp, head.source_width, head.source_height)
        strip = strip_for(setup, footage, limits)
        pick = None
        if setup.pick is not None:
            pick = (setup.pick[0] * footage.scale, setup.pick[1] * footage.scale)
        found = find_trail(footage, pick, lambda share: told(0.05 + 0.85 * share))
        ruler, middle, remarks = choose_ruler(found, setup, footage, strip)
        length = model_length(found, ruler)
        remarks += length_remark(length, setup.length_mm)
        found = replace(found, warnings=(*found.warnings, *remarks))
        told(0.95)
        bench = _figures(found, ruler, middle, setup, footage)
        error_s = float(np.median(np.diff(found.t_s)))  # of the start; see methods/motion.md
        moments = start_moments(footage, setup, bench.starts_s, error_s, limits)
        delay = start_delay(moments, setup, bench.starts_s)
        return replace(bench, model_length=length, start_moments=moments, start_delay=delay)


def _figures(
    found: Trail, ruler: Ruler, middle: Floats, setup: Setup, footage: Footage
) -> MotionBench:
    t = found.t_s
    # marks measure along the track; the model's length is tilted like its way
    lengthen = math.hypot(1, row_of(middle, found)[0]) if ruler.source == "marks" else 1.0
    x = ruler.millimetres(middle) * lengthen
    x = x - x[0]
    noise = place_noise(t, x)
    v, error = speed_curve(t, x, _CURVE_S)
    spans = moving_spans(t, v, noise * error + 1e-9)
    turn_s = _turn_time(v, setup.wheel_mm)
    parts = steady_parts(t, x, spans, max(0.4, turn_s))
    slow = _SLOW_PX / ruler.px_per_mm

    def pass_of(part: Span) -> Pass:
        there = middle[(t >= part.start_s) & (t <= part.end_s)]
        plain = mean_speed(t, x, part, slow)
        full = with_ruler(plain, ruler.error_between(there))
        return Pass(_WORDS[part.direction], part.end_s - part.start_s, plain, full, there)

    passes = [pass_of(part) for part in parts]
    speeds = [one.full for one in passes]
    main = parts[0] if parts else None
    warnings = list(found.warnings) + _remarks(parts, ruler, found)
    speed: Reading = speeds[0] if speeds else NotMeasurable(
        "the speed changes throughout: there is no part at steady speed", "m/s"
    )  # fmt: skip
    start = start_time(t, x, spans[0], noise) if spans else None
    starts = start_times(t, x, spans, noise)
    stop = stop_time(t, x, spans[-1], noise) if spans else None
    direction = main.direction if main else (1 if x[-1] >= 0 else -1)
    period = math.pi * setup.wheel_mm if setup.wheel_mm else None
    order = sorted(zip(parts, speeds, strict=True), key=lambda p: p[0].start_s)
    return MotionBench(
        speed=speed,
        scale_speed=_scale_speed(speed, setup.scale),
        direction=_WORDS[direction],
        track=_points(t, x, v, middle, found, footage.scale),
        start_s=start,
        starts_s=starts,
        stop_s=stop,
        speed_ripple=ripple(t, x, main, period) if main else _unsteady("percent"),
        coasting=_coasting(
            t, x, _last(t, x, parts, speeds, spans), stop, setup, ruler.relative_error
        ),
        acceleration=_acceleration(t, x, spans, parts, start, ruler),
        start_delay=NotMeasurable("it was not looked for", "s"),
        forward_reverse=within_clip(passes, ruler, setup.front),
        slowest_steady_speed=min(speeds, key=lambda s: s.value) if speeds else _unsteady("m/s"),
        steady=tuple(Steady(p.start_s, p.end_s, _WORDS[p.direction], s) for p, s in order),
        hesitations_s=_hesitations(t, v, spans),
        ruler=_shown(ruler, found, footage.scale),
        picture={"width": footage.head.source_width, "height": footage.head.source_height},
        duration_s=float(found.times_s[-1] - found.times_s[0]),
        warnings=tuple(dict.fromkeys(warnings)),
    )


def with_ruler(estimate: Estimate, relative_error: float) -> Estimate:
    """Add a ruler's relative standard error to a length, speed or the like."""
    extra = _Z * relative_error * abs(estimate.value)
    return replace(
        estimate,
        low=max(0.0, estimate.value - math.hypot(estimate.value - estimate.low, extra)),
        high=estimate.value + math.hypot(estimate.high - estimate.value, extra),
    )


def _unsteady(unit: str) -> NotMeasurable:
    return NotMeasurable("there is no part at steady speed", unit)


def _turn_time(v: Floats, wheel_mm: float | None) -> float:
    """Seconds of a wheel turn at the usual speed; 0 when the wheel is unknown."""
    usual = float(np.percentile(np.abs(v), 75))
    return min(2.0, math.pi * wheel_mm / usual) if wheel_mm and usual > 0 else 0.0


def _scale_speed(speed: Reading, scale: float | None) -> Reading:
    if scale is None:
        return NotMeasurable("the scale is not known: give it, such as 87", "km/h")
    if not isinstance(speed, Estimate):
        return NotMeasurable(speed.reason, "km/h")
    return speed.map(lambda v: scale_speed_km_h(v, scale), "km/h")


def _points(
    t: Floats, x: Floats, v: Floats, middle: Floats, found: Trail, scale: float
) -> tuple[TrackPoint, ...]:
    half = found.sheet.cover.shape[0] / 2
    px, py = found.to_picture(middle, found.y + half)
    rows = zip(t, x, v / 1000, px / scale, py / scale, strict=True)
    return tuple(TrackPoint(*map(float, row)) for row in rows)


def _shown(ruler: Ruler, found: Trail, scale: float) -> dict[str, object]:
    row = ruler.row_px
    if row is None:
        row = float(np.median(found.y)) + found.sheet.cover.shape[0] * 0.8
    x, y = found.to_picture(np.array(ruler.ends_px), np.array([row, row]))
    return {
        "source": ruler.source,
        "px_per_mm": ruler.px_per_mm / scale,
        "ends_px": [float(v / scale) for v in (x[0], y[0], x[1], y[1])],
        "relative_error": ruler.relative_error,
        "off_plane_percent_per_mm": 100 * ruler.off_plane,
        "markers_px": [round(v, 1) for v in ruler.markers_px],
    }


def _last(
    t: Floats, x: Floats, parts: list[Span], speeds: list[Estimate], spans: list[Span]
) -> tuple[Span, Estimate] | None:
    """Give the last steady part of the last move, up to where it is clearly slower for good."""
    mine = [(p, s) for p, s in zip(parts, speeds, strict=True) if p.end_s > spans[-1].start_s]
    if not mine:
        return None
    part, speed = max(mine, key=lambda m: m[0].end_s)
    v, _ = speed_curve(t, x, _CURVE_S)
    still_fast = (np.abs(v) > _SLOWER * 1000 * speed.value) & (t <= spans[-1].end_s)
    until = float(t[still_fast].max(initial=part.end_s)) - _CURVE_S / 2
    return replace(part, end_s=max(part.end_s, until)), speed


def _coasting(
    t: Floats,
    x: Floats,
    last: tuple[Span, Estimate] | None,
    stop: float | None,
    setup: Setup,
    relative_error: float,
) -> Reading:
    """Way from power-off, or from where the speed began to fall, to rest."""
    if stop is None:
        return NotMeasurable("it was not seen to come to rest", "mm")
    frame = float(np.median(np.diff(t)))
    noise = place_noise(t, x)
    if setup.power_off_s is not None:
        begin, blur, how = setup.power_off_s, frame / 2, "from power-off"
        if not t[0] <= begin <= stop:
            return NotMeasurable(
                "power-off lies outside the time in which it was seen moving", "mm"
            )
    elif last is not None:
        begin = fall_time(t, x, last[0], 1000 * last[1].value, stop, noise)
        blur, how = max(frame, 0.02), "from where the speed began to fall"
    else:
        return NotMeasurable("there is no steady part before the stop", "mm")
    way = abs(float(np.interp(stop, t, x) - np.interp(begin, t, x)))
    pace = 1000 * last[1].value if last else way / max(stop - begin, frame)
    near = Estimate.plus_minus(
        way, _Z * math.hypot(2 * noise, pace * blur), "mm", method=f"way {how} to rest"
    )
    return with_ruler(near, relative_error)


def _acceleration(
    t: Floats, x: Floats, spans: list[Span], parts: list[Span], start: float | None, ruler: Ruler
) -> Reading:
    if not spans:
        return NotMeasurable("nothing speeds up", "m/s2")
    begin = start if start is not None else spans[0].start_s
    after = [p.start_s for p in parts if p.start_s > begin]
    if start is None and after and min(after) - begin < 0.2:
        return NotMeasurable("it was at steady speed from the first", "m/s2")
    end = min(after) if after else spans[0].end_s
    if after:  # a steady part is trimmed, so that its begin lies in even speed already
        first = min((p for p in parts if p.start_s > begin), key=lambda p: p.start_s)
        v, _ = speed_curve(t, x, _CURVE_S)
        steady = (t >= first.start_s) & (t <= first.end_s)
        quick = (t > begin) & (np.abs(v) > _SLOWER * float(np.median(np.abs(v[steady]))))
        end = float(t[quick][0]) if quick.any() else end
    found = acceleration(t, x * spans[0].direction, begin, end)
    if not isinstance(found, Estimate):
        return found
    # a window that reaches into even speed tells less than the truth: ask its middle as well
    edge = _EDGE_SHARE * (end - begin)
    inner = acceleration(t, x * spans[0].direction, begin + edge, end - edge)
    apart = abs(inner.value - found.value) / 2 if isinstance(inner, Estimate) else 0.0
    extra = math.hypot(_Z * ruler.relative_error * found.value, apart)
    return replace(
        found,
        low=found.value - math.hypot(found.value - found.low, extra),
        high=found.value + math.hypot(found.high - found.value, extra),
    )


def _hesitations(t: Floats, v: Floats, spans: list[Span]) -> tuple[float, ...]:
    """Moments at which it fell below a quarter of the usual speed while under way."""
    found: list[float] = []
    for span in spans:
        inside = np.flatnonzero((t > span.start_s + 0.4) & (t < span.end_s - 0.4))
        if len(inside) < 5:
            continue
        pace = np.abs(v[inside])
        slow = pace < 0.25 * np.median(pace)
        parts = np.split(np.arange(len(inside)), np.flatnonzero(np.diff(slow)) + 1)
        halts = [p for p in parts[1:-1] if slow[p[0]]]
        found += [float(t[inside[p[np.argmin(pace[p])]]]) for p in halts]
    return tuple(found)


def _remarks(parts: list[Span], ruler: Ruler, found: Trail) -> list[str]:
    remarks = []
    if parts and parts[0].end_s - parts[0].start_s < 1:
        remarks.append(f"only {parts[0].end_s - parts[0].start_s:.1f} s at steady speed were seen")
    if ruler.relative_error > 0.03:
        remarks.append("the ruler is short in the picture: go nearer, or use marks further apart")
    reach = abs(2 * found.slant.q) * found.picture[0]
    if reach > 0.1:
        remarks.append(
            f"the camera looks along the track at a slant (scale changes by {100 * reach:.0f} % "
            "over the picture); corrected"
        )
    return remarks
