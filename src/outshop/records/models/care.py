"""Care: intervals of one's own, and what was done when."""

# ruff: noqa: D106 - Meta needs no words

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils import timezone

from .base import NAME_LENGTH, Record, VersionedRecord
from .job import JobCard
from .piece import Piece

INTERVAL = [MinValueValidator(0.01), MaxValueValidator(10_000)]


class CareInterval(VersionedRecord):
    """How often something falls due for one piece, in place of the usual interval."""

    piece = models.ForeignKey(Piece, models.CASCADE, related_name="care_intervals")
    rule = models.CharField(max_length=60)
    title = models.CharField(max_length=NAME_LENGTH, blank=True)  # only a rule of one's own
    text = models.TextField(blank=True)
    every_hours = models.FloatField(null=True, blank=True, validators=INTERVAL)
    every_months = models.FloatField(null=True, blank=True, validators=INTERVAL)
    switched_off = models.BooleanField(default=False)

    class Meta:
        ordering = ("piece", "rule")
        constraints = (
            models.UniqueConstraint(fields=["piece", "rule"], name="one_interval_per_rule"),
            models.CheckConstraint(
                condition=Q(switched_off=True)
                | Q(every_hours__isnull=False)
                | Q(every_months__isnull=False),
                name="care_needs_an_interval",
                violation_error_message="care needs an interval: give hours, months or both",
            ),
        )

    def __str__(self) -> str:
        """Give the rule."""
        return self.title or self.rule


class CareDone(Record):
    """Something that fell due was done."""

    piece = models.ForeignKey(Piece, models.CASCADE, related_name="care_done")
    job = models.ForeignKey(
        JobCard, models.SET_NULL, null=True, blank=True, related_name="care_done"
    )
    rule = models.CharField(max_length=60)
    done_at = models.DateTimeField(default=timezone.now)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ("-done_at", "-pk")
        indexes = (models.Index(fields=["piece", "rule", "done_at"], name="care_by_rule"),)

    def __str__(self) -> str:
        """Rule and day."""
        return f"{self.rule} on {self.done_at:%Y-%m-%d}"
