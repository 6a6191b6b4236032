"""From what an inspection found, or from chosen tasks, to a kept job card."""

from collections.abc import Iterable
from typing import Any

from outshop.errors import InputError
from outshop.records.models import Finding, Inspection, JobCard, Piece
from outshop.records.queries.care import absent_parts
from outshop.records.queries.pace import pace
from outshop.workshop import findings as workshop_findings
from outshop.workshop import job_card as workshop_cards
from outshop.workshop.stock import Need

from .inspections import add_inspection, set_finding
from .jobs import add_job
from .saving import change, use_case
from .stock import add_need
from .strip_down import plan_of

LONGEST_PROCEDURE = 60  # characters of the field


@use_case
def write_job_card(
    *,
    piece: Piece,
    title: str,
    inspection: Inspection | None = None,
    tasks: Iterable[str] = (),
    token: str = "",
) -> JobCard:
    """Write the card that answers an inspection's findings and the wanted tasks.

    Raises
    ------
    MissingError
        A task is not in the workshop's list.
    """
    found = as_workshop(inspection.findings.all()) if inspection else ()
    plan = workshop_cards.build(
        found,
        tasks=tasks,
        without=() if inspection else absent_parts(piece),
        plan=plan_of(piece),
        minutes_factor=pace(),
    )
    note = "\n".join(plan.unanswered)
    card = add_job(
        piece=piece,
        title=title,
        steps=step_fields(plan),
        inspection=inspection,
        note=note,
        token=token,
    )
    if not card.needs.exists():
        for need in needs_of(plan):
            add_need(card=card, name=need.name, amount=need.amount, size=need.size)
    return card


@use_case
def found_on_the_way(
    *, card: JobCard, part: str, state: str, axle: str = "", note: str = ""
) -> Finding:
    """Keep what was found while working, in the card's inspection: the diagnosis reads it there.

    A card without an inspection gets one of today.

    Raises
    ------
    MissingError
        The part list has no such part or state.
    InputError
        An axle's finding does not say which axle.
    """
    workshop_findings.Finding(part, state, axle)
    if part == "axle" and not axle:
        message = "say at which axle it was found"
        raise InputError(message)
    if card.inspection is None:
        change(card, version=None, fields={"inspection": add_inspection(piece=card.piece)})
    kind = Finding.TargetKind.AXLE if part == "axle" else Finding.TargetKind.PART
    target = axle if part == "axle" else part
    inspection = card.inspection
    if inspection is None:  # it was set just above
        message = "the card has no inspection"
        raise InputError(message)
    return set_finding(
        inspection=inspection, target_kind=kind, target=target, state=state, note=note
    )


def needs_of(plan: workshop_cards.JobCard) -> tuple[Need, ...]:
    """Give the parts that a card's tasks fit new: tyres come in pairs, one pair an axle."""
    axles = {step.axle for step in plan.steps if step.task == "tyres"}
    return (Need("Tyres", 2.0 * len(axles)),) if axles else ()


def as_workshop(findings: Iterable[Finding]) -> tuple[workshop_findings.Finding, ...]:
    """Give kept findings as the workshop takes them."""
    return tuple(
        workshop_findings.Finding(
            part="axle" if f.target_kind == Finding.TargetKind.AXLE else f.target,
            state=f.state,
            axle=f.target if f.target_kind == Finding.TargetKind.AXLE else "",
            note=f.note,
        )
        for f in findings
    )


def step_fields(plan: workshop_cards.JobCard) -> list[dict[str, Any]]:
    """Give the columns of each step, in order."""
    places = {step.key: place for place, step in enumerate(plan.steps)}
    return [
        {
            "phase": step.phase,
            "procedure": step.key[:LONGEST_PROCEDURE],
            "title": step.title,
            "text": step.text,
            "tools": list(step.tools),
            "consumables": list(step.consumables),
            "cautions": list(step.cautions),
            "minutes": step.minutes,
            "reverses": places.get(step.reverses) if step.reverses else None,
        }
        for step in plan.steps
    ]
