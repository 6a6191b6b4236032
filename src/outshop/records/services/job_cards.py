"""From what an inspection found, or from chosen tasks, to a kept job card."""

from collections.abc import Iterable
from typing import Any

from outshop.records.models import Finding, Inspection, JobCard, Piece
from outshop.workshop import findings as workshop_findings
from outshop.workshop import job_card as workshop_cards

from .jobs import add_job
from .saving import use_case

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
    plan = workshop_cards.build(found, tasks=tasks)
    note = "\n".join(plan.unanswered)
    return add_job(
        piece=piece,
        title=title,
        steps=step_fields(plan),
        inspection=inspection,
        note=note,
        token=token,
    )


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
