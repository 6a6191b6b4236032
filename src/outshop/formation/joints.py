"""Which way round each vehicle must stand so that every joint couples."""

from collections.abc import Sequence

from outshop.formation.scene import Vehicle


def turning(rear: str, vehicles: Sequence[Vehicle]) -> tuple[bool, ...] | None:
    """Give for each vehicle whether it is turned, or None when some joint cannot couple.

    Parameters
    ----------
    rear : str
        Coupling at the locomotive's rear.
    vehicles : sequence of Vehicle
        The train from the engine backwards.
    """
    turned = []
    for vehicle in vehicles:
        front, back = vehicle.couplings
        if front == rear:
            turned.append(False)
            rear = back
        elif back == rear:
            turned.append(True)
            rear = front
        else:
            return None
    return tuple(turned)


def first_bad_joint(rear: str, vehicles: Sequence[Vehicle]) -> int | None:
    """Give the number (from 0) of the first vehicle that cannot be coupled on, or None."""
    for position, vehicle in enumerate(vehicles):
        if rear not in vehicle.couplings:
            return position
        front, back = vehicle.couplings
        rear = back if front == rear else front
    return None


def bad_joint_as_standing(
    rear: str, vehicles: Sequence[Vehicle], turned: Sequence[bool]
) -> int | None:
    """Give the number of the first vehicle that does not couple the way round it stands, or None.

    Parameters
    ----------
    rear : str
        Coupling at the locomotive's rear.
    vehicles : sequence of Vehicle
        The train from the engine backwards.
    turned : sequence of bool
        Which of them stand the other way round.
    """
    for position, (vehicle, back_first) in enumerate(zip(vehicles, turned, strict=True)):
        front, back = reversed(vehicle.couplings) if back_first else vehicle.couplings
        if front != rear:
            return position
        rear = back
    return None
