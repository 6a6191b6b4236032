"""Inspections and their findings."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from outshop.errors import InputError
from outshop.records.models import ChangeEntry, Finding, Inspection, Piece

from .saving import add, change, note, once, remove, use_case


@use_case
def add_inspection(
    *,
    piece: Piece,
    made_on: date | None = None,
    inspector: str = "",
    note: str = "",
    token: str = "",
) -> Inspection:
    """Begin to look a piece over."""
    inspection = Inspection(piece=piece, inspector=inspector, note=note)
    if made_on:
        inspection.made_on = made_on
    return once(token=token, model=Inspection, make=lambda: add(inspection))


@use_case
def change_inspection(
    *, inspection: Inspection, version: int | None = None, **fields: Any
) -> Inspection:
    """Change an inspection's day, inspector or note."""
    return change(inspection, version=version, fields=fields)


@use_case
def set_finding(
    *, inspection: Inspection, target_kind: str, target: str, state: str, note: str = ""
) -> Finding:
    """Say in what state an axle or a part is; saying it again replaces the first word."""
    found = Finding.objects.select_for_update().filter(
        inspection=inspection, target_kind=target_kind, target=target
    )
    old = found.first()
    if old is None:
        return add(
            Finding(
                inspection=inspection,
                target_kind=target_kind,
                target=target,
                state=state,
                note=note,
            )
        )
    if (old.state, old.note) == (state, note):
        return old
    return _replace(old, {"state": state, "note": note})


@use_case
def set_findings(*, inspection: Inspection, findings: Mapping[tuple[str, str], str]) -> None:
    """Say many states at once: ``{(kind, target): state}``; an empty state removes the finding."""
    for (kind, target), state in findings.items():
        old = inspection.findings.filter(target_kind=kind, target=target).first()
        if state:
            set_finding(
                inspection=inspection,
                target_kind=kind,
                target=target,
                state=state,
                note=old.note if old else "",
            )
        elif old:
            remove(old)


@use_case
def remove_finding(*, finding: Finding) -> None:
    """Take a finding back."""
    remove(finding)


@use_case
def remove_inspection(*, inspection: Inspection) -> None:
    """Remove an inspection with all its findings."""
    remove(inspection)


def _replace(finding: Finding, fields: dict[str, str]) -> Finding:
    changes = [
        {"field": name, "old": getattr(finding, name), "new": value}
        for name, value in fields.items()
        if getattr(finding, name) != value
    ]
    for name, value in fields.items():
        setattr(finding, name, value)
    if not finding.state:
        message = "a finding needs a state: choose one, or take the finding back"
        raise InputError(message)
    finding.full_clean()
    finding.save()
    note(finding, ChangeEntry.Action.CHANGED, changes)
    return finding
