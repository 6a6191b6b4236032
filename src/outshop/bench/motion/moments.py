"""When the model was told to start: marked by hand, a click, the drive's first sound, a lamp."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from outshop.bench.motion.clicks import onsets_in
from outshop.bench.motion.footage import Footage
from outshop.bench.motion.kinematics import Span, start_time
from outshop.bench.motion.lamp import Lit, find_lamps, lamp_in
from outshop.bench.motion.setup import Setup
from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable, Reading, reading_from_json
from outshop.media.limits import DEFAULT, Limits

Floats = NDArray[np.float64]
Kind = Literal["marked", "click", "sound_begins", "lamp"]
_WORDS: dict[str, str] = {
    "marked": "the marked moment",
    "click": "the click",
    "sound_begins": "the first sound of the drive",
    "lamp": "the lamp",
}
_Z = 1.959964  # normal 97.5 % quantile
_LOOK_S = 5.0  # how long before the start a command is looked for (our choice)
_LATEST_S = 0.08  # and how long after it, for the errors of both
# offset of sound and picture in a phone's clip, standard error (our assumption; eyes and ears
# notice sound that is 45 ms early or 125 ms late, ITU-R BT.1359-1)
_SYNC_S = 0.03
_SETTLED_S = 0.1  # after a stop, before the next rest is looked at (our choice)
_ONSET_S = 0.004  # standard error of a sudden sound's time (coding smears it)


@dataclass(frozen=True, slots=True)
class Moment:
    """A moment that may have been the command.

    Parameters
    ----------
    kind : str
        ``marked``, ``click``, ``sound_begins`` or ``lamp``.
    t_s : Estimate
        When, in seconds of the clip.
    delay : Estimate
        From then to the first motion, in s.
    at_px : tuple of float
        Where a lamp is, in pixels of the clip.
    """

    kind: Kind
    t_s: Estimate
    delay: Estimate
    at_px: tuple[float, float] | None = None

    def as_json(self) -> dict[str, Any]:
        """Give a plain shape."""
        shape: dict[str, Any] = {
            "kind": self.kind,
            "t_s": self.t_s.as_json(),
            "delay": self.delay.as_json(),
        }
        return shape | ({"at_px": list(self.at_px)} if self.at_px else {})


def start_times(
    t_s: Floats, x_mm: Floats, spans: Sequence[Span], noise_mm: float
) -> tuple[float, ...]:
    """Give all first motions after a rest; what lies before the rest has no say in its start."""
    found = []
    rests_from = -math.inf
    for span in spans:
        after = t_s >= rests_from
        start = start_time(t_s[after], x_mm[after], span, noise_mm)
        if start is not None:
            found.append(start)
        rests_from = span.end_s + _SETTLED_S
    return tuple(found)


def start_moments(
    footage: Footage,
    setup: Setup,
    starts_s: Sequence[float],
    start_error_s: float,
    limits: Limits = DEFAULT,
) -> tuple[Moment, ...]:
    """Collect all moments that may have been a command to start, in order of time.

    Parameters
    ----------
    footage : Footage
        The clip.
    setup : Setup
        What was marked and where to look.
    starts_s : sequence of float
        First motions after a rest; a moment belongs to the next of them.
    start_error_s : float
        Their standard error.
    limits : Limits
        What the file may ask for.
    """
    rows: list[tuple[Kind, float, float, tuple[float, float] | None]] = []
    if setup.moment_s is not None:
        rows.append(("marked", setup.moment_s, setup.moment_error_s, None))
    earliest = -math.inf
    for start in starts_s:
        window = (max(start - _LOOK_S, earliest), start + _LATEST_S)
        heard = _heard(footage.path, window, limits)
        rows += [(kind, t, math.hypot(_SYNC_S, _ONSET_S), None) for kind, t in heard]
        lamps: list[Lit] = []
        if setup.lamp == "find":
            lamps = find_lamps(footage, *window)
        elif setup.lamp is not None:
            lamps = lamp_in(footage, setup.lamp, *window)
        rows += [("lamp", q.t_s, q.error_s, (q.x, q.y)) for q in lamps]
        earliest = window[1]
    rows.sort(key=lambda row: row[1])
    found = []
    for kind, t, error_s, at in rows:
        begins = _next_start(t, starts_s)
        if begins is not None:
            found.append(_moment(kind, t, error_s, at, begins, start_error_s))
    return tuple(found)


def _next_start(t_s: float, starts_s: Sequence[float]) -> float | None:
    return next((start for start in starts_s if start + _LATEST_S >= t_s), None)


def _heard(path: Path, window: tuple[float, float], limits: Limits) -> list[tuple[Kind, float]]:
    return [
        ("sound_begins" if sound.lasting else "click", sound.t_s)
        for sound in onsets_in(path, *window, limits)
    ]


def _moment(
    kind: Kind,
    t_s: float,
    error_s: float,
    at_px: tuple[float, float] | None,
    start_s: float,
    start_error_s: float,
) -> Moment:
    when = Estimate.plus_minus(t_s, _Z * error_s, "s", method=_WORDS[kind])
    half = _Z * math.hypot(error_s, start_error_s)
    delay = Estimate.plus_minus(
        start_s - t_s, half, "s", method=f"first motion after {_WORDS[kind]}"
    )
    return Moment(kind, when, delay, at_px)


def moment_from_json(shape: Mapping[str, Any]) -> Moment:
    """Read back what :meth:`Moment.as_json` wrote.

    Raises
    ------
    InputError
        A key is missing or of the wrong kind.
    """
    when, delay = (reading_from_json(shape[key]) for key in ("t_s", "delay"))
    if not isinstance(when, Estimate) or not isinstance(delay, Estimate):
        raise InputError("a start moment needs a time and a delay")
    at = shape.get("at_px")
    return Moment(shape["kind"], when, delay, (float(at[0]), float(at[1])) if at else None)


def start_delay(moments: Sequence[Moment], setup: Setup, starts_s: Sequence[float]) -> Reading:
    """Choose the delay: the marked moment's, else the lamp's asked for, else the first start's."""
    if not starts_s:
        return NotMeasurable("it was not seen to start", "s")
    if setup.moment_s is not None:
        marked = [m for m in moments if m.kind == "marked"]
        reason = f"it was not seen to start after the marked moment of {setup.moment_s:.2f} s"
        return marked[0].delay if marked else NotMeasurable(reason, "s")
    lamps = [m for m in moments if m.kind == "lamp"]
    if setup.lamp is not None and not lamps:
        return NotMeasurable("no lamp was seen to light before the start: mark the moment", "s")
    first = [m for m in moments if m.t_s.value <= starts_s[0] + _LATEST_S]
    chosen = lamps or [m for m in first if m.kind == "click"] or first
    if len(chosen) == 1:
        only = chosen[0]
        note = (
            f"{only.t_s.method} at {only.t_s.value:.2f} s is taken for the command, as the only "
            "one found: mark the moment if it was another"
        )
        return only.delay if only.kind == "lamp" else only.delay.with_note(note)
    if chosen:
        found = ", ".join(f"{_WORDS[m.kind]} at {m.t_s.value:.2f} s" for m in chosen[:6])
        return NotMeasurable(
            f"{len(chosen)} moments may have been the command ({found}): mark the right one", "s"
        )
    return NotMeasurable("the moment of the command is not known: mark it", "s")
