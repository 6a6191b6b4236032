"""What lies from the first to the last coach must stand at the line's shortest platform."""

from collections.abc import Sequence

from outshop.formation.kinds import is_kind
from outshop.formation.scene import Vehicle

COACHES = ("family:coach",)


def is_coach(vehicle: Vehicle) -> bool:
    """Tell whether people get in and out of it."""
    return is_kind(vehicle, COACHES)


def at_platform(coach: Sequence[bool], lengths: Sequence[int]) -> int:
    """Give the length from the first to the last coach, whatever stands between them; 0 if none.

    Parameters
    ----------
    coach : sequence of bool
        From the engine backwards.
    lengths : sequence of int
        Their lengths, in any unit.
    """
    if True not in coach:
        return 0
    first = coach.index(True)
    last = len(coach) - list(coach)[::-1].index(True)
    return sum(lengths[first:last])
