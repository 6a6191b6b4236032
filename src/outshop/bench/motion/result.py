"""What the motion bench found, in the shape of the contract."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from outshop.bench.motion.directions import (
    ForwardReverse,
    between_clips,
    forward_reverse_from_json,
)
from outshop.bench.motion.moments import Moment, moment_from_json
from outshop.errors import InputError
from outshop.estimate import NotMeasurable, Reading, reading_from_json

_READINGS = (
    "speed", "scale_speed", "speed_ripple", "coasting", "acceleration", "start_delay",
    "slowest_steady_speed", "model_length",
)  # fmt: skip
_KEYS = {"coasting": "coasting_mm"}
# what results of an earlier version lack
_OLD = NotMeasurable("measured before this was known: measure again", "")
_LATER: dict[str, Any] = {
    "model_length": _OLD.as_json(),
    "starts_s": [],
    "start_moments": [],
    "forward_reverse": ForwardReverse((), _OLD).as_json(),
}


@dataclass(frozen=True, slots=True)
class Steady:
    """One part at steady speed."""

    start_s: float
    end_s: float
    direction: str
    speed: Reading

    def as_json(self) -> dict[str, Any]:
        """Give a plain shape."""
        return {
            "start_s": self.start_s,
            "end_s": self.end_s,
            "direction": self.direction,
            "speed": self.speed.as_json(),
        }


@dataclass(frozen=True, slots=True)
class TrackPoint:
    """Where the model's middle was: along the track, and in the clip's own pixels."""

    t_s: float
    x_mm: float
    v_m_s: float
    x_px: float
    y_px: float


@dataclass(frozen=True, slots=True)
class MotionBench:
    """Everything measured on one clip.

    Parameters
    ----------
    speed : Reading
        Over the longest steady part, in m/s, unsigned.
    scale_speed : Reading
        The same at full size, in km/h.
    direction : str
        ``left_to_right`` or ``right_to_left``.
    track : tuple of TrackPoint
        The path; places in mm from where the model was first seen, right positive.
    start_s, stop_s : float or None
        When it was seen to start and to stop; None when it was moving already or still.
    speed_ripple : Reading
        Amplitude of the swing in percent of the mean speed.
    coasting : Reading
        Way from power-off, or from where the speed began to fall, to rest, in mm.
    acceleration : Reading
        From rest to steady speed, in m/s2.
    start_delay : Reading
        From the marked moment to the start, in s.
    slowest_steady_speed : Reading
        Slowest of the steady parts, in m/s.
    steady : tuple of Steady
        All steady parts, in order of time.
    hesitations_s : tuple of float
        Moments at which it nearly stopped while under way.
    ruler : mapping
        Scale and the two ends in the clip's pixels, to be shown and dragged.
    picture : mapping
        Width and height as a player shows them.
    duration_s : float
        Length of the clip.
    warnings : tuple of str
        What a careful reader should know.
    model_length : Reading
        Length over buffers by marks or a strip, in mm.
    starts_s : tuple of float
        All first motions after a rest.
    start_moments : tuple of Moment
        All that may have been the command to start.
    forward_reverse : ForwardReverse
        One direction against the other.
    """

    speed: Reading
    scale_speed: Reading
    direction: str
    track: tuple[TrackPoint, ...]
    start_s: float | None
    stop_s: float | None
    speed_ripple: Reading
    coasting: Reading
    acceleration: Reading
    start_delay: Reading
    slowest_steady_speed: Reading
    steady: tuple[Steady, ...]
    hesitations_s: tuple[float, ...]
    ruler: Mapping[str, Any]
    picture: Mapping[str, Any]
    duration_s: float
    warnings: tuple[str, ...]
    model_length: Reading = _OLD
    starts_s: tuple[float, ...] = ()
    start_moments: tuple[Moment, ...] = ()
    forward_reverse: ForwardReverse = ForwardReverse((), _OLD)  # noqa: RUF009 - frozen

    def against(self, other: "MotionBench", front: str | None = None) -> ForwardReverse:
        """Compare this clip's speed with another's, as forward with reverse."""
        here, there = (self.direction, self.speed), (other.direction, other.speed)
        return between_clips(here, there, front)

    def as_json(self) -> dict[str, Any]:
        """Give the contract's JSON shape."""
        readings = {_KEYS.get(k, k): getattr(self, k).as_json() for k in _READINGS}
        return {
            **readings,
            "direction": self.direction,
            "track": [
                {"t_s": round(p.t_s, 5), "x_mm": round(p.x_mm, 4), "v_m_s": round(p.v_m_s, 6),
                 "x_px": round(p.x_px, 2), "y_px": round(p.y_px, 2)}
                for p in self.track
            ],
            "start_s": self.start_s,
            "stop_s": self.stop_s,
            "steady": [s.as_json() for s in self.steady],
            "hesitations_s": list(self.hesitations_s),
            "starts_s": list(self.starts_s),
            "start_moments": [m.as_json() for m in self.start_moments],
            "forward_reverse": self.forward_reverse.as_json(),
            "ruler": dict(self.ruler),
            "picture": dict(self.picture),
            "duration_s": self.duration_s,
            "warnings": list(self.warnings),
        }  # fmt: skip

    @classmethod
    def from_json(cls, shape: Mapping[str, Any]) -> "MotionBench":
        """Read back what :meth:`as_json` wrote.

        Raises
        ------
        InputError
            A key is missing or of the wrong kind.
        """
        try:
            shape = {**_LATER, **shape}
            readings = {k: reading_from_json(shape[_KEYS.get(k, k)]) for k in _READINGS}
            return cls(
                **readings,
                direction=str(shape["direction"]),
                track=tuple(TrackPoint(**p) for p in shape["track"]),
                start_s=shape["start_s"],
                stop_s=shape["stop_s"],
                steady=tuple(
                    Steady(s["start_s"], s["end_s"], s["direction"], reading_from_json(s["speed"]))
                    for s in shape["steady"]
                ),
                hesitations_s=tuple(shape["hesitations_s"]),
                ruler=dict(shape["ruler"]),
                picture=dict(shape["picture"]),
                duration_s=float(shape["duration_s"]),
                warnings=tuple(shape["warnings"]),
                starts_s=tuple(shape["starts_s"]),
                start_moments=tuple(map(moment_from_json, shape["start_moments"])),
                forward_reverse=forward_reverse_from_json(shape["forward_reverse"]),
            )
        except (KeyError, TypeError, ValueError) as problem:
            message = f"not the result of a motion bench: {problem}"
            raise InputError(message) from problem
