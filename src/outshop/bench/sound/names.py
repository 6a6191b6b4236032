"""The orders a drive must make, with names and how likely each is to be heard."""

from dataclasses import dataclass

from outshop.bench.sound.drive import Drive, commutation_order

MOTOR, COMMUTATION, MESH, WHEEL = "motor turn", "commutation", "mesh", "wheel turn"

# chance that a line is heard in a recording; ours, chosen on simulations, no source
HEARD_COMMUTATION = (0.95, 0.85, 0.7, 0.6)
HEARD_MESH = (0.85, 0.7, 0.55)
HEARD_POLES, HEARD_MOTOR = 0.4, (0.5, 0.35)


@dataclass(frozen=True, slots=True)
class NamedOrder:
    """A tone that the drive can make.

    Parameters
    ----------
    name, shaft, family : str
        ``stage 1 mesh ×2``, the faster shaft it belongs to, and the group of harmonics.
    order : float
        Cycles in one motor turn.
    heard : float
        Prior chance that it stands out of the recording.
    """

    name: str
    shaft: str
    family: str
    order: float
    heard: float


def named_orders(drive: Drive) -> tuple[NamedOrder, ...]:
    """List the tones of a drive, without repeats, lowest order first.

    Commutation at 2n (odd poles) or n (even poles) a motor turn and its harmonics; gear mesh at
    teeth times shaft turns (z₁n₁ = z₂n₂), three harmonics; the motor's own turn; one a pole.
    """
    found: dict[float, NamedOrder] = {}

    def add(name: str, shaft: str, family: str, order: float, heard: float) -> None:
        key = round(order, 6)
        if key not in found or found[key].heard < heard:
            found[key] = NamedOrder(name, shaft, family, order, heard)

    for k, heard in enumerate(HEARD_MOTOR, 1):
        add(_times(MOTOR, k), "motor", MOTOR, k, heard)
    if drive.poles:
        add(f"once per pole ({drive.poles})", "motor", COMMUTATION, drive.poles, HEARD_POLES)
        events = commutation_order(drive.poles)
        for k, heard in enumerate(HEARD_COMMUTATION, 1):
            name = _times(f"commutation ({events} per turn)", k)
            add(name, "motor", COMMUTATION, events * k, heard)
    shaft = 1.0
    for number, stage in enumerate(drive.stages, 1):
        where = "motor" if number == 1 else f"shaft {number - 1}"
        mesh = shaft * stage.driver_teeth
        kind = "worm mesh" if stage.is_worm else "mesh"
        for k, heard in enumerate(HEARD_MESH, 1):
            add(_times(f"stage {number} {kind}", k), where, f"stage {number}", mesh * k, heard)
        shaft *= stage.driver_teeth / stage.driven_teeth
    return tuple(sorted(found.values(), key=lambda o: o.order))


def shaft_orders(drive: Drive) -> tuple[tuple[str, float], ...]:
    """Name the shafts with their turns for one motor turn: motor, shaft 1, ..., wheel."""
    shafts = [("motor", 1.0)]
    turns = 1.0
    for number, stage in enumerate(drive.stages, 1):
        turns *= stage.driver_teeth / stage.driven_teeth
        last = number == len(drive.stages)
        shafts.append(("wheel" if last else f"shaft {number}", turns))
    if not drive.stages and drive.ratio:
        shafts.append(("wheel", 1 / drive.ratio))
    return tuple(shafts)


def _times(name: str, k: int) -> str:
    return name if k == 1 else f"{name} ×{k}"
