"""Evidence on years, the feature tables of editions, and research notes."""

from collections.abc import Sequence
from typing import Any

from outshop.dating.editions import FeatureRow
from outshop.records.models import Edition, EditionFeature, Evidence, Piece, ResearchNote

from .saving import add, change, once, remove, use_case


@use_case
def add_evidence(*, piece: Piece, token: str = "", **fields: Any) -> Evidence:
    """Keep one evidence."""
    evidence = Evidence(piece=piece, **fields)
    return once(token=token, model=Evidence, make=lambda: add(evidence))


@use_case
def add_many_evidences(*, piece: Piece, rows: Sequence[dict[str, Any]]) -> int:
    """Keep a whole table of evidence, or nothing of it; give how many."""
    for row in rows:
        add(Evidence(piece=piece, **row))
    return len(rows)


@use_case
def change_evidence(*, evidence: Evidence, version: int | None = None, **fields: Any) -> Evidence:
    """Change one evidence."""
    return change(evidence, version=version, fields=fields)


@use_case
def remove_evidence(*, evidence: Evidence) -> None:
    """Take one evidence back."""
    remove(evidence)


@use_case
def replace_features(*, edition: Edition, rows: Sequence[FeatureRow]) -> int:
    """Put a new feature table in the place of an edition's old one; give how many rows."""
    edition.features.all().delete()
    for row in rows:
        add(
            EditionFeature(
                edition=edition,
                version_name=row.edition,
                part=row.part,
                feature=row.feature,
                variant=row.variant,
                window=row.text,
                trust=row.trust,
                source=row.source,
            )
        )
    return len(rows)


@use_case
def add_research(*, piece: Piece, token: str = "", **fields: Any) -> ResearchNote:
    """Keep a question."""
    note = ResearchNote(piece=piece, **fields)
    return once(token=token, model=ResearchNote, make=lambda: add(note))


@use_case
def change_research(
    *, note: ResearchNote, version: int | None = None, **fields: Any
) -> ResearchNote:
    """Change a question, or settle it."""
    return change(note, version=version, fields=fields)


@use_case
def remove_research(*, note: ResearchNote) -> None:
    """Take a question back."""
    remove(note)
