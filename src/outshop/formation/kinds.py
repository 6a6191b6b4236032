"""The kinds of vehicles by the trade's names, and what they are for."""

import tomllib
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files

from outshop.formation.scene import Vehicle

# A two-axle coach is rarely longer than this over buffers at 1:87 (14 m full size: common
# practice, no source); used only when the owner gives no number of axles.
LONGEST_TWO_AXLE_MM = 165


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of vehicle: its name, family (goods, coach, van, brake, ...) and usual axles."""

    name: str
    family: str
    axles: int


@lru_cache(maxsize=1)
def kinds() -> dict[str, Kind]:
    """Give all known kinds by name."""
    text = files("outshop.formation").joinpath("kinds.toml").read_text(encoding="utf-8")
    return {
        name: Kind(name, row["family"], row["axles"]) for name, row in tomllib.loads(text).items()
    }


def family(kind: str) -> str:
    """Give the family of a kind; a kind that nobody knows is ``other``."""
    known = kinds().get(kind)
    return known.family if known else "other"


def is_kind(vehicle: Vehicle, names: tuple[str, ...]) -> bool:
    """Tell whether the vehicle is one of the kinds or families named (``family:coach``)."""
    return vehicle.kind in names or f"family:{family(vehicle.kind)}" in names


def axles(vehicle: Vehicle) -> int:
    """Give the number of axles: the owner's, else the usual one of its kind and length."""
    if vehicle.axles is not None:
        return vehicle.axles
    if family(vehicle.kind) == "coach":
        return 2 if vehicle.length_mm <= LONGEST_TWO_AXLE_MM else 4
    known = kinds().get(vehicle.kind)
    return known.axles if known else 2
