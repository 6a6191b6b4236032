"""One record of any kind, with every field set to something other than its default."""

from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import models

from outshop.records.models.base import Record

# where any text will not do
FITTING: dict[str, Any] = {
    "scale": "H0",
    "arrangement": "1'D1'+2'2'",
    "made": "1958/1963",
    "shows": "1958~",
    "years": "1950/1968",
    "built": "1949",
    "date": "1911",
    "window": "1958/1963",
    "currency": "EUR",
    "drive": {"armature_poles": 5},
    "legs": [{"direction": "forward", "minutes": 3}],
    "tools": ["a driver"],
    "consumables": ["oil"],
    "cautions": ["air the room"],
    "warnings": ["short"],
    "sha256": "ab" * 32,
    "confidence": 0.9,
    "trust": 0.75,
    "condition": 0.5,
    "first_year": 1911,
    "decade": 1960,
    "last_year": 1911,
    "plan": {"name": "Ä", "removals": [{"id": "body", "title": "Body", "ways": []}], "reach": {}},
    "StripDownPlan.edition": None,  # of an edition or of a piece
    "cover": None,  # set once there are photos
}
KINDS: dict[type[models.Field], Any] = {
    models.BooleanField: True,
    models.DateField: date(1999, 12, 31),
    models.DateTimeField: datetime(1999, 12, 31, 23, 59, 59, 123456, tzinfo=UTC),
    models.DecimalField: Decimal("12.3456"),
    models.FloatField: 1.25,
    models.IntegerField: 7,
    models.JSONField: {"Ä": [1, 2.5, None, True]},
    models.CharField: "Ä'\"€",
    models.UUIDField: UUID(int=7),
    models.TextField: "two\nlines 🚂",
}


def filled(model: type[Record]) -> Record:
    """Give the first record of a kind; make it, and what it needs, when there is none."""
    found = model.objects.first()
    if found is not None:
        return found
    record = model()
    for field in model._meta.concrete_fields:
        if not field.primary_key and field.name not in ("uid", "search_text"):
            setattr(record, field.name, value_for(field))
    record.save()
    return record


def value_for(field: models.Field) -> Any:
    for name in (f"{field.model.__name__}.{field.name}", field.name):
        if name in FITTING:
            return FITTING[name]
    if field.is_relation:
        itself = field.related_model is field.model
        return None if itself else filled(field.related_model)
    if field.choices:
        return [key for key, _ in field.choices][-1]
    return next(
        value for kind, value in KINDS.items() if isinstance(field, kind) and exact(field, kind)
    )


def exact(field: models.Field, kind: type[models.Field]) -> bool:
    """A moment is also a day to isinstance; take the nearer of the two."""
    return kind is not models.DateField or not isinstance(field, models.DateTimeField)
