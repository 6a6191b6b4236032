"""Findings become one card: opened once, tasks merged, closed in reverse, tested, run in."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from outshop.errors import InputError
from outshop.workshop.cautions import Caution, cautions_for
from outshop.workshop.findings import Finding
from outshop.workshop.plans import plan_for
from outshop.workshop.strip_down import Removal, StripDown, StripPlan, goals_for, least_opening
from outshop.workshop.tasks import Phase, Step, Task, all_tasks, task


@dataclass(frozen=True, slots=True)
class CardStep:
    """One line of the card.

    Parameters
    ----------
    key : str
        Stable name of the step on this card, such as ``free-axle.soak.2``.
    phase : str
        ``prepare``, ``strip-down``, ``work``, ``reassembly``, ``test``, ``run-in``
        or ``close``.
    title, text, tools, consumables, minutes, part, photo
        As in :class:`outshop.workshop.tasks.Step`.
    cautions : tuple of str
        Caution ids that belong to this step; those that hurt people first.
    axle : str
        Label of the axle it concerns, or empty.
    task : str
        Id of the task or removal it belongs to.
    reverses : str
        Key of the strip-down step that this reassembly step undoes, or empty.
    """

    key: str
    phase: Phase
    title: str
    text: str
    minutes: float
    tools: tuple[str, ...] = ()
    consumables: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    part: str = ""
    axle: str = ""
    task: str = ""
    reverses: str = ""
    photo: bool = False

    @property
    def caution_list(self) -> tuple[Caution, ...]:
        """The cautions in full."""
        return cautions_for(self.cautions)


@dataclass(frozen=True, slots=True)
class JobCard:
    """An ordered card of work.

    Parameters
    ----------
    tasks : tuple of str
        Ids of the tasks on it.
    steps : tuple of CardStep
        In the order of work; keys are unique.
    tools, consumables : tuple of str
        What to lay ready, each once.
    minutes : float
        Sum over the steps, in minutes.
    reasons : tuple of str
        The findings that led to it, as sentences.
    stop_signs : tuple of str
        What must be settled before the model is powered.
    unanswered : tuple of str
        Findings for which the workshop knows no task yet.
    warnings : tuple of str
        What the strip-down plan warns of.
    """

    tasks: tuple[str, ...]
    steps: tuple[CardStep, ...]
    tools: tuple[str, ...]
    consumables: tuple[str, ...]
    minutes: float
    reasons: tuple[str, ...] = ()
    stop_signs: tuple[str, ...] = ()
    unanswered: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()

    @property
    def cautions(self) -> tuple[Caution, ...]:
        """Every caution of the card once, those that hurt people first."""
        return cautions_for(name for step in self.steps for name in step.cautions)

    def as_json(self) -> dict[str, Any]:
        """Give a plain shape that :meth:`from_json` reads back."""
        return asdict(self)

    @classmethod
    def from_json(cls, shape: Mapping[str, Any]) -> "JobCard":
        """Read back what :meth:`as_json` wrote.

        Raises
        ------
        InputError
            The shape is not that of a job card.
        """
        try:
            steps = tuple(CardStep(**_tuples(row)) for row in shape["steps"])
            return cls(**{**_tuples(shape), "steps": steps})
        except (AttributeError, KeyError, TypeError) as problem:
            message = f"this is not a job card: {problem}"
            raise InputError(message) from problem


def build(
    findings: Iterable[Finding] = (),
    *,
    tasks: Iterable[str] = (),
    without: Iterable[str] = (),
    plan: StripPlan | None = None,
    minutes_factor: Mapping[str, float] | None = None,
) -> JobCard:
    """Build the card that answers the findings.

    Parameters
    ----------
    findings : iterable of Finding
        What the inspection found; states in good order call for nothing.
    tasks : iterable of str
        Task ids wanted besides, for example because care falls due.
    without : iterable of str
        Part ids that the model does not have (``rods`` for a bogie diesel); parts found
        ``not-fitted`` are added to it.
    plan : StripPlan, optional
        The model's own strip-down plan; the general one otherwise.
    minutes_factor : mapping of str to float, optional
        Own pace by task or removal id: actual over estimated minutes.

    Returns
    -------
    JobCard
        Tasks merged, each thing opened once, reassembly the reverse of strip-down with a
        function test before the body goes back.

    Raises
    ------
    MissingError
        A wanted task does not exist.
    KnowledgeError
        Removals of the plan wait for each other in a loop.
    """
    found = tuple(findings)
    absent = {*without, *(f.part for f in found if f.state == "not-fitted" and not f.axle)}
    chosen = _choose(found, tuple(tasks))
    used = plan or plan_for()
    opening = _opening(used, chosen, absent)
    if opening.removals:
        closing = [task("function-test"), task("run-in")]
        chosen = sorted({*chosen, *closing}, key=all_tasks().index)
        opening = _opening(used, chosen, absent)
    pace = dict(minutes_factor or {})
    steps = _steps(chosen, opening, found, absent)
    steps = [replace(s, minutes=s.minutes * pace.get(s.task, 1.0)) for s in steps]
    return JobCard(
        tasks=tuple(t.id for t in chosen),
        steps=tuple(steps),
        tools=tuple(dict.fromkeys(tool for s in steps for tool in s.tools)),
        consumables=tuple(dict.fromkeys(c for s in steps for c in s.consumables)),
        minutes=sum(s.minutes for s in steps),
        reasons=tuple(f.sentence for f in found if f.gravity in {"fault", "stop", "absent"}),
        stop_signs=tuple(f.sentence for f in found if f.gravity == "stop"),
        warnings=opening.warnings,
        unanswered=tuple(
            f.sentence
            for f in found
            if f.gravity in {"fault", "stop", "absent"}
            and not any(t.called_for_by(f) for t in chosen)
        ),
    )


def _opening(plan: StripPlan, chosen: Sequence[Task], absent: set[str]) -> StripDown:
    """Find the least opening for all tasks together."""
    parts = [part for t in chosen for part in t.reaches if part not in absent]
    return least_opening(plan, goals_for(plan, parts), absent=absent)


def _choose(found: tuple[Finding, ...], wanted: tuple[str, ...]) -> list[Task]:
    """Give the tasks called for, in the order of the table."""
    asked = {task(name).id for name in wanted}
    return [t for t in all_tasks() if t.always or t.id in asked or any(map(t.called_for_by, found))]


def _steps(
    chosen: Sequence[Task], opening: StripDown, found: Sequence[Finding], absent: set[str]
) -> list[CardStep]:
    """Lay the steps out: prepare, open, work, close, test, close the body, run in."""

    def of(phase: Phase) -> list[CardStep]:
        return [
            line
            for t in chosen
            if t.phase == phase
            for line in _task_steps(t, found)
            if line.part not in absent
        ]

    off = [_off(r) for r in opening.removals]
    if off and opening.warnings:
        first = replace(off[0], text=" ".join((*opening.warnings, off[0].text)))
        off = [first, *off[1:]]
    back = [(r, _back(r)) for r in opening.reassembly]
    return [
        *of("prepare"),
        *off,
        *of("work"),
        *(line for r, line in back if r.id not in opening.late),
        *of("test"),
        *(line for r, line in back if r.id in opening.late),
        *of("run-in"),
        *of("close"),
    ]


def _task_steps(t: Task, found: Sequence[Finding]) -> list[CardStep]:
    """Give a task's lines, once for each axle that called for it."""
    axles = [f.axle for f in found if t.called_for_by(f)] if t.per_axle else []
    labels = sorted(set(axles) - {""}, key=axles.index) or [""]
    return [_line(step, t.phase, t.id, label) for label in labels for step in t.steps]


def _off(r: Removal) -> CardStep:
    """Give the line that takes a part off."""
    remember = f" Write down: {r.remember}." if r.remember else ""
    return CardStep(
        key=f"{r.id}.off",
        phase="strip-down",
        title=r.title,
        text=f"{r.text}{remember}",
        minutes=r.minutes,
        tools=r.tools,
        cautions=_sorted_cautions(r.cautions),
        part=r.part,
        task=r.id,
        photo=True,
    )


def _back(r: Removal) -> CardStep:
    """Give the line that puts it back."""
    return CardStep(
        key=f"{r.id}.back",
        phase="reassembly",
        title=r.back_title or f"Put back: {r.title}",
        text=r.back_text,
        minutes=r.minutes,
        tools=r.tools,
        cautions=_sorted_cautions(r.cautions),
        part=r.part,
        task=r.id,
        reverses=f"{r.id}.off",
    )


def _line(step: Step, phase: Phase, owner: str, axle: str) -> CardStep:
    if axle:
        title = step.title.replace("{axle}", axle)
    else:
        bare = step.title.removeprefix("Axle {axle}: ")
        title = bare[:1].upper() + bare[1:]
    return CardStep(
        key=".".join(filter(None, (owner, step.id, axle))),
        phase=phase,
        title=title,
        text=step.text,
        minutes=step.minutes,
        tools=step.tools,
        consumables=step.consumables,
        cautions=_sorted_cautions(step.cautions),
        part=step.part,
        axle=axle,
        task=owner,
        photo=step.photo,
    )


def _sorted_cautions(names: Sequence[str]) -> tuple[str, ...]:
    return tuple(c.id for c in cautions_for(names))


def _tuples(row: Mapping[str, Any]) -> dict[str, Any]:
    """Turn the lists that JSON knows into the tuples of a frozen dataclass."""
    return {key: tuple(item) if isinstance(item, list) else item for key, item in row.items()}
