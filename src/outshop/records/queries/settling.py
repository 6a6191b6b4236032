"""Has a run-in settled? The readings of each direction and quantity, fitted."""

from dataclasses import dataclass
from datetime import datetime

from outshop.estimate import Estimate, NotMeasurable, Reading
from outshop.records.models import RunIn, RunInSample
from outshop.records.run_in_clock import ran_by_leg
from outshop.workshop.settling import Settling, fit_settling, is_settled, minutes_left

UNITS = {"current_a": "A", "level_db": "dB", "speed_km_h": "km/h", "temperature_c": "°C"}
FEWEST_SHOWN = 3  # readings of one kind before anything is said


@dataclass(frozen=True, slots=True)
class Settled:
    """One quantity in one direction.

    Parameters
    ----------
    key, unit, direction : str
        Which quantity, in which unit, which way.
    minutes, values : tuple of float
        The readings, minutes counted in this direction only.
    fit : Settling or NotMeasurable
        The curve.
    left : Reading
        Minutes still to run this way.
    """

    key: str
    unit: str
    direction: str
    minutes: tuple[float, ...]
    values: tuple[float, ...]
    fit: Settling | NotMeasurable
    left: Reading

    @property
    def settled(self) -> bool:
        """Whether nothing is left to run, even at the cautious end."""
        return is_settled(self.left)


def settling_of(run_in: RunIn, now: datetime) -> list[Settled]:
    """Fit each quantity of each direction of which there are readings."""
    ran = [seconds / 60 for seconds in ran_by_leg(run_in, now)]
    samples = list(run_in.samples.all())
    found = []
    for key, unit in UNITS.items():
        for direction in dict.fromkeys(str(leg["direction"]) for leg in run_in.legs):
            mine = [
                (_minute_of(sample, run_in, ran), float(value))
                for sample in samples
                if sample.direction == direction and (value := getattr(sample, key)) is not None
            ]
            if len(mine) < FEWEST_SHOWN:
                continue
            minutes, values = zip(*sorted(mine), strict=True)
            fit = fit_settling(minutes, values)
            run = sum(
                r for r, leg in zip(ran, run_in.legs, strict=True)
                if leg["direction"] == direction
            )  # fmt: skip
            left = minutes_left(fit, max(run, minutes[-1]))
            found.append(Settled(key, unit, direction, minutes, values, fit, left))
    return found


def still_to_run(found: list[Settled]) -> Reading | None:
    """Give the most minutes that any quantity still asks for; None without readings.

    Temperature does not count: it follows the load and the room, not the wear.
    """
    judged = [s.left for s in found if s.key != "temperature_c"]
    if not judged:
        return None
    known = [left for left in judged if isinstance(left, Estimate)]
    if len(known) < len(judged):
        return next(left for left in judged if not isinstance(left, Estimate))
    return max(known, key=lambda left: left.high)


def _minute_of(sample: RunInSample, run_in: RunIn, ran: list[float]) -> float:
    """Give a reading's minute counted in its own direction only."""
    begun = other = 0.0
    for minutes, leg in zip(ran, run_in.legs, strict=True):
        if begun + 1e-6 >= sample.minute:
            break
        if leg["direction"] != sample.direction:
            other += minutes
        begun += minutes
    return max(sample.minute - other, 0.0)
