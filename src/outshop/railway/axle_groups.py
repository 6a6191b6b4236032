"""What a wheel arrangement is once read: units, groups of axles, single axles."""

from dataclasses import dataclass, field
from itertools import groupby
from typing import Literal

from outshop.errors import NotationError

Kind = Literal["engine", "tender", "trailer"]
MOST_IN_A_GROUP = 8  # letters A to H; no engine with more coupled axles in one frame is on record
MOST_AXLES = 64  # our own fence against typing slips


@dataclass(frozen=True, slots=True)
class AxleGroup:
    """Axles that one letter or digit stands for.

    Parameters
    ----------
    count : int
        How many axles.
    driven : bool
        Driven (a letter) or carrying (a digit).
    own_motors : bool
        Each axle has its own traction motor (``o``).
    pivoted : bool
        They sit in a bogie or radial truck of their own (prime).
    bracket : int or None
        Number of the bracket (sub-frame holding several groups) within the unit.
    """

    count: int
    driven: bool
    own_motors: bool = False
    pivoted: bool = False
    bracket: int | None = None

    def __post_init__(self) -> None:
        """Check once, at the door."""
        if not 1 <= self.count <= MOST_IN_A_GROUP:
            message = f"a group has 1 to {MOST_IN_A_GROUP} axles; got {self.count}"
            raise NotationError(message)
        if self.own_motors and not self.driven:
            message = f"carrying axles have no motors: write {self.count} without the o"
            raise NotationError(message)

    @property
    def sign(self) -> str:
        """The UIC letter or digit with its ``o``, without prime."""
        letter = chr(ord("A") + self.count - 1)
        return letter + "o" * self.own_motors if self.driven else str(self.count)


@dataclass(frozen=True, slots=True)
class Unit:
    """One mechanically separate vehicle: engine, tender or trailer."""

    groups: tuple[AxleGroup, ...]
    kind: Kind = "engine"

    @property
    def uic(self) -> str:
        """The unit's groups in UIC notation."""
        text = ""
        for bracket, members in groupby(self.groups, key=lambda g: g.bracket):
            inner = "".join(g.sign + "'" * g.pivoted for g in members)
            text += inner if bracket is None else f"({inner})"
        return text


@dataclass(frozen=True, slots=True)
class Axle:
    """One axle in running order.

    Parameters
    ----------
    index : int
        Place in the arrangement, from 0 at the leading end.
    label : str
        Carrying axles ``a``, ``b``, ...; driven axles ``1``, ``2``, ...
    unit, group : int
        Which unit of the arrangement, and which group within the arrangement, from 0.
    kind : str
        ``engine``, ``tender`` or ``trailer``.
    driven, own_motor : bool
        Driven at all; by its own motor.
    bogie : int or None
        Number of the pivoted frame it sits in, from 0; None in the main frame.
    """

    index: int
    label: str
    unit: int
    group: int
    kind: Kind
    driven: bool
    own_motor: bool
    bogie: int | None


@dataclass(frozen=True, slots=True)
class Arrangement:
    """A whole wheel arrangement.

    Parameters
    ----------
    units : tuple of Unit
        In running order, engine's leading end first.
    suffix : str
        Class letters after the arrangement, such as ``h3S``.
    notes : tuple of str
        How an unusual spelling was understood.
    """

    units: tuple[Unit, ...]
    suffix: str = ""
    notes: tuple[str, ...] = field(default=(), compare=False)

    def __post_init__(self) -> None:
        """Check once, at the door."""
        total = sum(g.count for g in self.groups)
        if not 1 <= total <= MOST_AXLES:
            message = f"an arrangement has 1 to {MOST_AXLES} axles; got {total}"
            raise NotationError(message)

    @property
    def groups(self) -> tuple[AxleGroup, ...]:
        """All groups in running order."""
        return tuple(g for unit in self.units for g in unit.groups)

    @property
    def axles(self) -> tuple[Axle, ...]:
        """All axles in running order."""
        found: list[Axle] = []
        driven = carrying = group_number = bogies = 0
        for unit_number, unit in enumerate(self.units):
            last_bracket: int | None = None
            bracket_bogie = 0
            for group in unit.groups:
                bogie: int | None = None
                if group.bracket is not None and group.bracket != last_bracket:
                    bracket_bogie, bogies = bogies, bogies + 1
                if group.pivoted:
                    bogie, bogies = bogies, bogies + 1
                elif group.bracket is not None:
                    bogie = bracket_bogie
                last_bracket = group.bracket
                for _ in range(group.count):
                    driven, carrying = driven + group.driven, carrying + (not group.driven)
                    label = str(driven) if group.driven else _letters(carrying)
                    found.append(
                        Axle(
                            len(found),
                            label,
                            unit_number,
                            group_number,
                            unit.kind,
                            group.driven,
                            group.own_motors,
                            bogie,
                        )
                    )
                group_number += 1
        return tuple(found)

    @property
    def total_axles(self) -> int:
        """Axles of engine and trailers; a tender's axles do not count."""
        return sum(g.count for u in self.units if u.kind != "tender" for g in u.groups)

    @property
    def driven_axles(self) -> int:
        """Driven axles of all units."""
        return sum(g.count for g in self.groups if g.driven)

    @property
    def has_own_motors(self) -> bool:
        """Whether any axle has its own traction motor."""
        return any(g.own_motors for g in self.groups)

    @property
    def uic(self) -> str:
        """The arrangement in UIC notation, without class letters."""
        return "+".join(unit.uic for unit in self.units)


def _letters(number: int) -> str:
    """Count a, b, ..., z, aa, ab, ..."""
    text = ""
    while number:
        number, rest = divmod(number - 1, 26)
        text = chr(ord("a") + rest) + text
    return text
