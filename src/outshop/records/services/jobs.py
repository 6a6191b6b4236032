"""Job cards and their steps."""

from collections.abc import Iterable, Mapping
from typing import Any

from django.utils import timezone

from outshop.errors import InputError
from outshop.records.models import Inspection, JobCard, JobStep, Piece

from .care import note_care_of_job
from .saving import add, change, once, remove, use_case


@use_case
def add_job(
    *,
    piece: Piece,
    title: str,
    steps: Iterable[Mapping[str, Any]] = (),
    inspection: Inspection | None = None,
    note: str = "",
    token: str = "",
) -> JobCard:
    """Write a job card.

    Parameters
    ----------
    steps : iterable of mapping
        In order; the fields of a step, where ``reverses`` is the place (from 0) of the
        strip-down step that it undoes.
    """

    def new() -> JobCard:
        card = add(JobCard(piece=piece, title=title, inspection=inspection, note=note))
        _append(card, steps)
        return card

    return once(token=token, model=JobCard, make=new)


@use_case
def add_steps(*, card: JobCard, steps: Iterable[Mapping[str, Any]]) -> list[JobStep]:
    """Add steps at the end of a card; ``reverses`` counts within ``steps``."""
    return _append(card, steps)


@use_case
def change_job(*, card: JobCard, version: int | None = None, **fields: Any) -> JobCard:
    """Change a card's title or note."""
    return change(card, version=version, fields=fields)


@use_case
def change_step(*, step: JobStep, version: int | None = None, **fields: Any) -> JobStep:
    """Change what a step says, or note something at it."""
    return change(step, version=version, fields=fields)


@use_case
def tick_step(*, step: JobStep, note: str | None = None) -> JobStep:
    """Check a step off; a second tick changes nothing."""
    step.refresh_from_db()
    fields: dict[str, Any] = {} if step.done_at else {"done_at": timezone.now()}
    if note is not None:
        fields["note"] = note
    return change(step, version=None, fields=fields)


@use_case
def untick_step(*, step: JobStep) -> JobStep:
    """Open a step again."""
    return change(step, version=None, fields={"done_at": None})


@use_case
def remove_step(*, step: JobStep) -> None:
    """Take a step off the card."""
    remove(step)


@use_case
def finish_job(*, card: JobCard, given_up: bool = False) -> JobCard:
    """Close a card; every step must be ticked unless it is given up."""
    open_steps = card.steps.filter(done_at=None).count()
    if open_steps and not given_up:
        message = f"{open_steps} steps of {card} are still open: tick them, or give the job up"
        raise InputError(message)
    state = JobCard.State.GIVEN_UP if given_up else JobCard.State.DONE
    if not given_up:
        note_care_of_job(card)
    return change(
        card,
        version=None,
        fields={"state": state, "finished_at": card.finished_at or timezone.now()},
    )


@use_case
def reopen_job(*, card: JobCard) -> JobCard:
    """Open a closed card again."""
    return change(card, version=None, fields={"state": JobCard.State.OPEN, "finished_at": None})


def _append(card: JobCard, steps: Iterable[Mapping[str, Any]]) -> list[JobStep]:
    last = card.steps.order_by("-order").first()
    begin = last.order + 1 if last else 1
    made: list[JobStep] = []
    for order, fields in enumerate(steps, begin):
        columns = dict(fields)
        undone = columns.pop("reverses", None)
        if undone is not None:
            if not 0 <= undone < len(made):
                message = f"step {len(made)} undoes step {undone}, which does not come before it"
                raise InputError(message)
            columns["reverses"] = made[undone]
        step = JobStep(card=card, order=order, **columns)
        made.append(add(step))
    return made
