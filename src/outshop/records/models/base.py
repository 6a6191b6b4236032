"""What every kept record has."""

# ruff: noqa: D106 - Meta needs no words

import uuid

from django.db import models
from django.utils import timezone

NAME_LENGTH = 300  # long enough for any title that a person types in one line


class Record(models.Model):
    """A row with a name of its own that survives export, import and merging."""

    uid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    created_at = models.DateTimeField(default=timezone.now, editable=False)

    class Meta:
        abstract = True


class VersionedRecord(Record):
    """A record that two browser tabs may edit: ``version`` counts its changes."""

    version = models.PositiveIntegerField(default=1, editable=False)
    changed_at = models.DateTimeField(default=timezone.now, editable=False)

    class Meta:
        abstract = True
