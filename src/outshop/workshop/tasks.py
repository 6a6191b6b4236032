"""What the workshop knows how to do: tasks with their steps, and general removals."""

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
    opens : tuple of str
        Ids of the removals that must be done first.
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
    opens: tuple[str, ...]
    when: tuple[Trigger, ...]
    per_axle: bool
    always: bool
    source: str

    def called_for_by(self, finding: Finding) -> bool:
        """Tell whether this finding asks for the task."""
        return any(t.part == finding.part and finding.state in t.states for t in self.when)


@dataclass(frozen=True, slots=True)
class Removal:
    """Something that comes off, and how it goes back.

    Parameters
    ----------
    id : str
        Its key.
    off, back : Step
        The step of taking it off and its reverse.
    after : tuple of str
        Removals that must be done before.
    part : str
        The part whose absence from the model makes this removal needless.
    late : bool
        Whether it goes back only after the function test.
    """

    id: str
    off: Step
    back: Step
    after: tuple[str, ...] = ()
    part: str = ""
    late: bool = False


@cache
def all_tasks() -> tuple[Task, ...]:
    """Give every task in the order of a working day."""
    folder = files("outshop.workshop") / "tables" / "tasks"
    names = sorted(entry.name for entry in folder.iterdir() if entry.name.endswith(".toml"))
    return tuple(_task(table(f"tasks/{name.removesuffix('.toml')}")) for name in names)


@cache
def all_removals() -> tuple[Removal, ...]:
    """Give the general removals for models without a plan of their own."""
    return tuple(_removal(row) for row in table("strip_down")["removal"])


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
        opens=tuple(shape.get("opens", ())),
        when=tuple(Trigger(w["part"], tuple(w["states"])) for w in shape.get("when", ())),
        per_axle=bool(shape.get("per_axle", False)),
        always=bool(shape.get("always", False)),
        source=shape["source"],
    )


def _step(row: dict[str, Any]) -> Step:
    lists = {key: tuple(row.get(key, ())) for key in ("tools", "consumables", "cautions")}
    return Step(**{**row, **lists})


def _removal(row: dict[str, Any]) -> Removal:
    shared = {
        "minutes": row["minutes"],
        "tools": tuple(row["tools"]),
        "cautions": tuple(row.get("cautions", ())),
        "part": row["part"],
    }
    name = row["id"]
    return Removal(
        name,
        Step(f"{name}-off", row["title"], row["text"], photo=True, **shared),
        Step(f"{name}-back", row["back_title"], row["back_text"], **shared),
        tuple(row.get("after", ())),
        row["part"],
        bool(row.get("late", False)),
    )
