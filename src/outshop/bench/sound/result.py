"""The sound bench's result, and its JSON shape."""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any

from outshop.bench.sound.drive import Drive, drive_from_table
from outshop.bench.sound.runs import Run
from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable, Reading, reading_from_json

CONFIDENT, AMBIGUOUS, NOT_FOUND = "confident", "ambiguous", "not_found"

Table = tuple[Mapping[str, Any], ...]


_WHY = "not measured"
_RATE, _SPEED = NotMeasurable(_WHY, "1/s"), NotMeasurable(_WHY, "km/h")
_PLAIN = NotMeasurable(_WHY, "")
_SHARE, _TIME, _LEVEL = (NotMeasurable(_WHY, unit) for unit in ("percent", "s", "dB"))


@dataclass(frozen=True)
class SoundBench:
    """What one recording tells.

    Parameters
    ----------
    duration_s, sample_rate_hz : float
        Length in seconds, sample rate in Hz.
    sha256 : str
        Checksum of the file; empty if it was measured from samples.
    runs : tuple of Run
        Still and running stretches.
    level, level_as_recorded, background : Reading
        dB(A): the machine without the room, the running time as it stands, the room alone.
    motor_speed, wheel_speed : Reading
        1/s, mean over the running time at steady speed.
    scale_speed : Reading
        Scale km/h.
    motor_speed_status : str
        ``confident``, ``ambiguous`` or ``not_found``.
    alternatives : tuple of float
        Other motor speeds that fit, 1/s.
    orders : tuple of mapping
        Named orders: name, shaft, order, frequency_hz, level_db, prominence_db, and more.
    wheel_turn_modulation, speed_swing : Reading
        Percent: depth of the sound's and of the motor speed's change once per wheel turn.
    lap_time, start_time : Reading
        Seconds: time between passes of the phone; from first sound to steady speed.
    room_change : Reading
        dB: the room after the last run against the room before the first.
    inferred_ratio : Reading
        Motor turns for one wheel turn, from a speed known otherwise.
    squeal : Reading
        dB: how far the strongest tone that follows no order stands above its surroundings.
    crackle : Reading
        1/s: short bangs a second.
    events, bands, steady_tones, thumps, families : tuple of mapping
        Starts and stops; third-octave levels; mains hum; bumps over the wheel turn; what the
        sounds could be without a drive.
    fixed_resonances : tuple of mapping
        What rings at the same pitch wherever the speed goes: shell, baseboard, room.
    fixed_resonances_note : str
        Why they cannot be told from orders; empty if they can.
    turn_envelope : tuple of float
        Loudness over one wheel turn in equal steps, mean 1.
    track : tuple of mapping
        Motor speed over time.
    clipped_share : float
        Share of samples at full scale.
    full_scale_db : float or None
        Level of a full-scale sine in dB SPL, if known.
    drive : Drive or None
        The drive that was given.
    warnings : tuple of str
        What a careful reader should know.
    """

    duration_s: float
    sample_rate_hz: float
    sha256: str
    runs: tuple[Run, ...]
    level: Reading
    level_as_recorded: Reading
    background: Reading
    motor_speed: Reading = _RATE
    wheel_speed: Reading = _RATE
    scale_speed: Reading = _SPEED
    motor_speed_status: str = NOT_FOUND
    alternatives: tuple[float, ...] = ()
    orders: Table = ()
    wheel_turn_modulation: Reading = _SHARE
    speed_swing: Reading = _SHARE
    lap_time: Reading = _TIME
    start_time: Reading = _TIME
    room_change: Reading = _LEVEL
    inferred_ratio: Reading = _PLAIN
    squeal: Reading = _LEVEL
    crackle: Reading = _RATE
    events: Table = ()
    bands: Table = ()
    steady_tones: Table = ()
    fixed_resonances: Table = ()
    fixed_resonances_note: str = _WHY
    thumps: Table = ()
    families: Table = ()
    turn_envelope: tuple[float, ...] = ()
    track: Table = ()
    clipped_share: float = 0.0
    full_scale_db: float | None = None
    drive: Drive | None = None
    warnings: tuple[str, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """Give the contract's JSON shape, with more keys."""
        return {f.name: _plain(getattr(self, f.name)) for f in fields(self)}

    @classmethod
    def from_json(cls, shape: Mapping[str, Any]) -> "SoundBench":
        """Read back what :meth:`as_json` wrote; keys that are missing keep their defaults.

        Raises
        ------
        InputError
            A key that is always there is missing or holds something else.
        """
        try:
            values = {
                f.name: _from_plain(f.name, shape[f.name]) for f in fields(cls) if f.name in shape
            }
            return cls(**values)
        except (TypeError, KeyError, ValueError) as problem:
            message = f"not a sound bench result: {problem}"
            raise InputError(message) from problem


def _plain(value: Any) -> Any:
    if isinstance(value, Estimate | NotMeasurable | Run | Drive):
        return value.as_json()
    if isinstance(value, tuple):
        return [_plain(v) for v in value]
    if isinstance(value, Mapping):
        return {k: _plain(v) for k, v in value.items()}
    return value


def _from_plain(name: str, value: Any) -> Any:
    if name == "runs":
        return tuple(Run(r["start_s"], r["end_s"], r["state"]) for r in value)
    if name == "drive":
        return None if value is None else drive_from_table(value)
    if isinstance(value, Mapping):
        return reading_from_json(value)
    return tuple(value) if isinstance(value, list) else value
