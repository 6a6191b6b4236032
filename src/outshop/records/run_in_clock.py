"""What the run-in clock shows, computed from its segments at any moment."""

from dataclasses import dataclass
from datetime import datetime

from outshop.records.models import RunIn
from outshop.workshop.run_in import Mark, ran_seconds


@dataclass(frozen=True, slots=True)
class Clock:
    """A run-in at one moment; times in seconds.

    Parameters
    ----------
    leg : int
        The leg that runs, from 0.
    direction : str
        ``forward`` or ``reverse``.
    leg_ran_s, leg_planned_s : float
        How long this leg has run (never more than planned), and how long it shall.
    ran_s, planned_s : float
        The same over all legs.
    going : bool
        Whether time passes now.
    """

    leg: int
    direction: str
    leg_ran_s: float
    leg_planned_s: float
    ran_s: float
    planned_s: float
    going: bool

    @property
    def leg_left_s(self) -> float:
        """What is left of the leg."""
        return self.leg_planned_s - self.leg_ran_s

    @property
    def turn_now(self) -> bool:
        """Whether the leg is full, so that it is time to change direction or to end."""
        return self.leg_left_s <= 0


def clock_of(run_in: RunIn, now: datetime) -> Clock:
    """Read the clock.

    A leg counts at most its planned minutes: a laptop left closed for a night adds no
    running hours. A clock set back counts as no time, never as negative time.
    """
    planned = [float(leg["minutes"]) * 60 for leg in run_in.legs]
    ran = ran_by_leg(run_in, now)
    going = any(segment.ended_at is None for segment in run_in.segments.all())
    leg = run_in.leg
    return Clock(
        leg=leg,
        direction=str(run_in.legs[leg]["direction"]),
        leg_ran_s=ran[leg],
        leg_planned_s=planned[leg],
        ran_s=sum(ran),
        planned_s=sum(planned),
        going=going,
    )


def ran_by_leg(run_in: RunIn, now: datetime) -> list[float]:
    """Give the seconds run of each leg, at most its plan."""
    marks: list[list[Mark]] = [[] for _ in run_in.legs]
    for segment in run_in.segments.all():
        marks[segment.leg].append(Mark(segment.started_at, segment.ended_at))
    planned = [float(leg["minutes"]) * 60 for leg in run_in.legs]
    return [min(ran_seconds(m, now), p) for m, p in zip(marks, planned, strict=True)]
