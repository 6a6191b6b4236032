"""One record as plain JSON and back; relations are told by the other record's uid."""

# ruff: noqa: SLF001 - Django documents _meta as public

import uuid
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django.apps import apps
from django.core.exceptions import ValidationError
from django.db import models

from outshop.errors import ArchiveError
from outshop.records.models.base import Record
from outshop.records.services.saving import sentence

# made anew from the other columns
DERIVED = {"id", "search_text", "first_year", "last_year"}


def record_models() -> list[type[Record]]:
    """Give all kinds of record, each after those that it cannot exist without."""
    left = [m for m in apps.get_app_config("records").get_models() if issubclass(m, Record)]
    ordered: list[type[Record]] = []
    while left:
        ready = next(m for m in left if not (_needed(m) & set(left)) - {m})
        ordered.append(ready)
        left.remove(ready)
    return ordered


def file_name(model: type[Record]) -> str:
    """Give the name of a kind's file in the archive."""
    return f"records/{model._meta.model_name}.json"


def columns(model: type[Record]) -> list[models.Field[Any, Any]]:
    """Give the fields that travel."""
    return [f for f in model._meta.concrete_fields if f.name not in DERIVED]


def late_relations(model: type[Record], before: set[type[Record]]) -> list[str]:
    """Give the relations that can only be set once all records are there."""
    return [
        f.name for f in columns(model) if f.is_relation and f.null and f.related_model not in before
    ]


def as_json(record: Record, uids: Mapping[type[Record], Mapping[int, str]]) -> dict[str, Any]:
    """Write a record; ``uids`` tells the uid of each key, per kind."""
    row: dict[str, Any] = {}
    for column in columns(type(record)):
        value = getattr(record, column.attname)
        if column.is_relation and value is not None:
            value = uids[column.related_model][value]  # type: ignore[index]
        elif isinstance(value, uuid.UUID | Decimal):
            value = str(value)
        elif hasattr(value, "isoformat"):
            value = value.isoformat()
        row[column.name] = value
    return row


def from_json(
    model: type[Record],
    row: Any,
    keys: Mapping[type[Record], Mapping[str, int]],
    late: list[str],
) -> Record:
    """Build a record, not saved yet; ``keys`` tells the key of each uid, per kind.

    Raises
    ------
    ArchiveError
        A column is unknown, or holds what it must not.
    """
    where = f"{model._meta.model_name} {row.get('uid', '?') if isinstance(row, dict) else '?'}"
    known = {column.name: column for column in columns(model)}
    if not isinstance(row, dict) or (strange := set(row) - set(known)):
        detail = f"unknown column {sorted(strange)[0]}" if isinstance(row, dict) else "no record"
        message = f"the archive is damaged at {where}: {detail}"
        raise ArchiveError(message)
    record = model()
    try:
        for name, value in row.items():
            if name not in late:
                setattr(record, known[name].attname, _value(known[name], value, keys))
        relations = {c.name for c in model._meta.concrete_fields if c.is_relation}
        record.clean_fields(exclude=relations | DERIVED)
    except ValidationError as problem:
        message = f"the archive is damaged at {where}: {sentence(problem, record)}"
        raise ArchiveError(message) from problem
    except KeyError as problem:
        message = f"the archive is damaged at {where}: it belongs to {problem}, which is not there"
        raise ArchiveError(message) from problem
    return record


def _value(
    column: models.Field[Any, Any], value: Any, keys: Mapping[type[Record], Mapping[str, int]]
) -> Any:
    if value is None or isinstance(column, models.JSONField):
        return value
    if column.is_relation:
        return keys[column.related_model][str(value)]  # type: ignore[index]
    return column.to_python(value)


def _needed(model: type[Record]) -> set[type[models.Model]]:
    return {
        f.related_model
        for f in model._meta.concrete_fields
        if f.is_relation and not f.null and isinstance(f.related_model, type)
    }
