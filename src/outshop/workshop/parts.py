"""The model's part list and the states that each part may be found in."""

from dataclasses import dataclass
from functools import cache
from typing import Literal

from outshop.errors import MissingError
from outshop.workshop._load import table

Gravity = Literal["good", "watch", "fault", "stop", "absent"]


@dataclass(frozen=True, slots=True)
class PartState:
    """One state of a part, such as *seized*, and how grave it is."""

    id: str
    name: str
    gravity: Gravity


@dataclass(frozen=True, slots=True)
class Part:
    """One line of the part list.

    Parameters
    ----------
    id, name, group : str
        Its key, its name, and the heading it stands under.
    states : tuple of PartState
        What may be said of it, the good state first.
    on_diagram : bool
        Whether it is marked at the axle diagram (one per axle) and not in the list.
    """

    id: str
    name: str
    group: str
    states: tuple[PartState, ...]
    on_diagram: bool = False

    def state(self, name: str) -> PartState:
        """Give one state by its id.

        Raises
        ------
        MissingError
            This part has no such state.
        """
        for known in self.states:
            if known.id == name:
                return known
        names = ", ".join(known.id for known in self.states)
        message = f"{self.name} has no state {name!r}; choose one of {names}"
        raise MissingError(message)


@cache
def all_parts() -> tuple[Part, ...]:
    """Give every part, the axle (which stands at the diagram) first."""
    shape = table("parts")
    good, *rest = (PartState(**row) for row in shape["common"])
    parts = []
    for row in shape["part"]:
        own = tuple(PartState(**state) for state in row["states"])
        diagram = bool(row.get("on_diagram", False))
        states = own if diagram else (good, *own, *rest)
        parts.append(Part(row["id"], row["name"], row["group"], states, diagram))
    return tuple(parts)


def part_list() -> tuple[Part, ...]:
    """Give the parts of the list, without the axles that stand at the diagram."""
    return tuple(known for known in all_parts() if not known.on_diagram)


def part(name: str) -> Part:
    """Give one part by its id.

    Raises
    ------
    MissingError
        There is no such part.
    """
    for known in all_parts():
        if known.id == name:
            return known
    names = ", ".join(known.id for known in all_parts())
    message = f"no part is called {name!r}; choose one of {names}"
    raise MissingError(message)


def axle_states() -> tuple[PartState, ...]:
    """Give what may be said of an axle: free, stiff, seized and so on."""
    return part("axle").states
