"""What the run-in clock shows, computed from its segments at any moment."""

from dataclasses import dataclass
from datetime import datetime

from outshop.records.models import RunIn


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
    ran = [0.0] * len(planned)
    going = False
    for segment in run_in.segments.all():
        end = segment.ended_at or now
        going = going or segment.ended_at is None
        ran[segment.leg] += max((end - segment.started_at).total_seconds(), 0)
    ran = [min(r, p) for r, p in zip(ran, planned, strict=True)]
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
