"""What an inspection found, and what it comes to part by part."""

from collections.abc import Iterable
from dataclasses import dataclass

from outshop.workshop.parts import Gravity, Part, PartState, part, part_list


@dataclass(frozen=True, slots=True)
class Finding:
    """One part of the model and the state it is in.

    Parameters
    ----------
    part : str
        Id from the part list, or ``axle``.
    state : str
        Id of one of that part's states.
    axle : str
        The axle's label at the diagram (``1``, ``2``, ``a``); empty for other parts.
    note : str
        The person's own words.

    Raises
    ------
    MissingError
        The part or the state is not in the list.
    """

    part: str
    state: str
    axle: str = ""
    note: str = ""

    def __post_init__(self) -> None:
        """Check once, at the door."""
        part(self.part).state(self.state)

    @property
    def gravity(self) -> Gravity:
        """How grave it is."""
        return part(self.part).state(self.state).gravity

    @property
    def place(self) -> str:
        """The part in words, with its axle."""
        name = part(self.part).name
        return f"{name} {self.axle}" if self.axle else name

    @property
    def sentence(self) -> str:
        """The finding in words: ``Axle 2: seized``."""
        return f"{self.place}: {part(self.part).state(self.state).name}"


@dataclass(frozen=True, slots=True)
class PartLine:
    """One part of the summary; ``state`` is None when nobody looked."""

    part: Part
    state: PartState | None
    note: str


@dataclass(frozen=True, slots=True)
class Condition:
    """Completeness and condition, part by part; deliberately not one number.

    Parameters
    ----------
    lines : tuple of PartLine
        Every part of the list in order, looked at or not.
    axles : tuple of Finding
        The axles that were looked at.
    stops, faults, watch, missing : tuple of Finding
        The findings that matter, by gravity.
    """

    lines: tuple[PartLine, ...]
    axles: tuple[Finding, ...]
    stops: tuple[Finding, ...]
    faults: tuple[Finding, ...]
    watch: tuple[Finding, ...]
    missing: tuple[Finding, ...]

    @property
    def looked_at(self) -> int:
        """How many parts of the list somebody looked at."""
        return sum(line.state is not None for line in self.lines)

    @property
    def present(self) -> int:
        """How many parts were looked at and are there (or were never fitted)."""
        return sum(line.state is not None and line.state.gravity != "absent" for line in self.lines)


def summarise(findings: Iterable[Finding]) -> Condition:
    """Sum up an inspection part by part; a later finding of a part replaces an earlier."""
    latest = {(f.part, f.axle): f for f in findings}
    kept = list(latest.values())
    lines = []
    for known in part_list():
        found = latest.get((known.id, ""))
        state = known.state(found.state) if found else None
        lines.append(PartLine(known, state, found.note if found else ""))

    def of(gravity: Gravity) -> tuple[Finding, ...]:
        return tuple(f for f in kept if f.gravity == gravity)

    axles = tuple(f for f in kept if f.part == "axle")
    return Condition(tuple(lines), axles, of("stop"), of("fault"), of("watch"), of("absent"))
