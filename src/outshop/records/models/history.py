"""Who changed what, and which forms were already taken in."""

# ruff: noqa: D106 - Meta needs no words

from django.db import models
from django.utils.translation import gettext_lazy as _

from .base import Record
from .piece import Piece


class ChangeEntry(Record):
    """One change of one record, written so that a person can read it years later."""

    class Action(models.TextChoices):
        """What was done."""

        ADDED = "added", _("added")
        CHANGED = "changed", _("changed")
        REMOVED = "removed", _("removed")

    piece = models.ForeignKey(Piece, models.SET_NULL, null=True, blank=True, related_name="changes")
    who = models.CharField(max_length=200, blank=True)
    action = models.CharField(max_length=10, choices=Action)
    record_kind = models.CharField(max_length=40)  # the model's name
    record_uid = models.UUIDField(db_index=True)
    record_title = models.TextField(blank=True)
    changes = models.JSONField(default=list, blank=True)  # [{"field", "old", "new"}, ...]

    class Meta:
        ordering = (
            "-created_at",
            "-pk",
        )

    def __str__(self) -> str:
        """Give action and title."""
        return f"{self.get_action_display()} {self.record_title}"


class SentForm(models.Model):
    """The token of a form that was taken in, so that sending it twice does nothing twice."""

    token = models.CharField(max_length=64, unique=True)
    taken_at = models.DateTimeField(auto_now_add=True, db_index=True)
    record_kind = models.CharField(max_length=40)
    record_pk = models.BigIntegerField()

    def __str__(self) -> str:
        """Give the token."""
        return self.token
