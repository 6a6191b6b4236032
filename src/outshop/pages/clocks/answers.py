"""From the filled form to clocks that agree or not, and to the slip."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from outshop.bench.motion.clocks import ClockSpeed, clocked, from_clip, from_lap_time
from outshop.bench.motion.run import RunSlip, run_slip
from outshop.bench.motion.together import Together, together
from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable, Reading, reading_from_json
from outshop.pages.clocks.form import timings
from outshop.railway.scales import Scale
from outshop.records.models import Recording


@dataclass(frozen=True, slots=True)
class ClockRow:
    """A clock with its speeds, at the model and at full size."""

    clock: ClockSpeed
    scale_speed: Reading


@dataclass(frozen=True, slots=True)
class ByClock:
    """The slip by one track speed: ``name`` is empty for the common one."""

    name: str
    found: RunSlip


@dataclass(frozen=True, slots=True)
class Answer:
    """What the clocks and the sound of a run say."""

    together: Together
    slips: tuple[ByClock, ...] = ()
    no_slip: str = ""

    @property
    def rows(self) -> list[ClockRow]:
        """Each clock with its speeds."""
        return [ClockRow(c, c.scale_speed(self.together.scale)) for c in self.together.clocks]

    def readings(self) -> dict[str, Reading]:
        """Give what is kept with the piece."""
        found: dict[str, Reading] = {"clocked_speed": self.together.speed}
        if self.together.scale is not None:
            found["clocked_scale_speed"] = self.together.scale_speed
        if len(self.slips) == 1:
            bench = self.slips[0].found.bench
            kept = {"slip": bench.slip, "rolling_diameter": bench.rolling_diameter}
            kept["true_ratio"] = bench.ratio
            found |= {
                key: reading for key, reading in kept.items() if isinstance(reading, Estimate)
            }
        return found

    def as_json(self) -> dict[str, Any]:
        """Give a plain shape to keep."""
        return {
            **self.together.as_json(),
            "slips": [
                {"by": s.name, **s.found.bench.as_json(), **s.found.as_json()} for s in self.slips
            ],
        }


def answer(
    typed: Mapping[str, str],
    cleaned: Mapping[str, Any],
    *,
    clip: Recording | None,
    sound: Recording | None,
    scale: Scale | None,
) -> Answer | None:
    """Say what was given means; None while no clock is there.

    Raises
    ------
    InputError
        Readings that cannot be.
    """
    clocks = [clocked(t) for t in timings(typed)]
    if sound is not None and cleaned.get("loop_mm") is not None:
        clocks.append(from_lap_time(_reading(sound, "lap_time", "s"), cleaned["loop_mm"]))
    if clip is not None:
        clocks.append(from_clip(_reading(clip, "speed", "m/s")))
    if not clocks:
        return None
    found = together(clocks, scale)
    if sound is None:
        return Answer(found)
    try:
        return Answer(found, _slips(found, sound, cleaned))
    except InputError as problem:  # the clocks hold all the same
        return Answer(found, (), str(problem))


def _slips(
    found: Together, sound: Recording, cleaned: Mapping[str, Any]
) -> tuple[ByClock, ...]:  # fmt: skip
    """Give the slip by the common speed, or by each clock where they do not agree."""
    tracks: list[tuple[str, Reading]] = [("", found.speed)]
    if found.agree is False:
        tracks = [(c.name, c.speed) for c in found.clocks if isinstance(c.speed, Estimate)]
    return tuple(
        ByClock(
            name,
            run_slip(
                sound.result or {},
                track,
                wheel_mm=cleaned.get("wheel_mm"),
                wheel_tolerance_mm=cleaned.get("wheel_tolerance_mm"),
                rolling=bool(cleaned.get("rolling")),
            ),
        )
        for name, track in tracks
    )


def _reading(recording: Recording, key: str, unit: str) -> Reading:
    shape = (recording.result or {}).get(key)
    if not isinstance(shape, Mapping):
        return NotMeasurable("it was measured by another version: measure it again", unit)
    return reading_from_json(shape)
