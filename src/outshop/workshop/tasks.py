"""What the workshop knows how to do: tasks with their steps."""

from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any, Literal

from outshop.errors import MissingError
from outshop.workshop._load import table
from outshop.workshop.findings import Finding

Phase = Literal["prepare", "strip-down", "work", "reassembly", "test", "run-in", "close"]


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to do.

    Parameters
    ----------
    id, title, text : str
        Its key inside the task, what to do, and how.
    tools, consumables : tuple of str
        What must lie ready.
    minutes : float
        Bench time of a practised amateur (common practice), in minutes.
    cautions : tuple of str
        Ids from :mod:`outshop.workshop.cautions` that belong to this very step.
    part : str
        Id of the part it concerns, or empty.
    photo : bool
        Whether a photograph should be taken now.
    """

    id: str
    title: str
    text: str
    minutes: float
    tools: tuple[str, ...] = ()
    consumables: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    part: str = ""
    photo: bool = False


@dataclass(frozen=True, slots=True)
class Trigger:
    """Findings that call for a task: one part in one of these states."""

    part: str
    states: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Task:
    """A job that the workshop knows.

    Parameters
    ----------
    id, title, why : str
        Its key, its name, and what it is good for.
    phase : str
        Where its steps stand on a card.
    steps : tuple of Step
        In order.
    reaches : tuple of str
        Part ids that must lie open, looked up in the model's strip-down plan.
    when : tuple of Trigger
        Findings that call for it.
    per_axle : bool
        Whether its steps are repeated for each axle that called for it.
    always : bool
        Whether it stands on every card.
    source : str
        Where the content comes from.
    """

    id: str
    title: str
    why: str
    phase: Phase
    steps: tuple[Step, ...]
    reaches: tuple[str, ...]
    when: tuple[Trigger, ...]
    per_axle: bool
    always: bool
    source: str

    def called_for_by(self, finding: Finding) -> bool:
        """Tell whether this finding asks for the task."""
        return any(t.part == finding.part and finding.state in t.states for t in self.when)


@cache
def all_tasks() -> tuple[Task, ...]:
    """Give every task in the order of a working day."""
    folder = files("outshop.workshop") / "tables" / "tasks"
    names = sorted(entry.name for entry in folder.iterdir() if entry.name.endswith(".toml"))
    return tuple(_task(table(f"tasks/{name.removesuffix('.toml')}")) for name in names)


def task(name: str) -> Task:
    """Give one task by its id.

    Raises
    ------
    MissingError
        The workshop knows no such task.
    """
    for known in all_tasks():
        if known.id == name:
            return known
    names = ", ".join(known.id for known in all_tasks())
    message = f"no task is called {name!r}; known are {names}"
    raise MissingError(message)


def _task(shape: dict[str, Any]) -> Task:
    return Task(
        id=shape["id"],
        title=shape["title"],
        why=shape["why"],
        phase=shape["phase"],
        steps=tuple(_step(row) for row in shape["step"]),
        reaches=tuple(shape.get("reaches", ())),
        when=tuple(Trigger(w["part"], tuple(w["states"])) for w in shape.get("when", ())),
        per_axle=bool(shape.get("per_axle", False)),
        always=bool(shape.get("always", False)),
        source=shape["source"],
    )


def _step(row: dict[str, Any]) -> Step:
    lists = {key: tuple(row.get(key, ())) for key in ("tools", "consumables", "cautions")}
    return Step(**{**row, **lists})
