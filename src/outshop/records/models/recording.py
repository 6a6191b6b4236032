"""Recordings and the measurements made from them, or typed in."""

# ruff: noqa: D106 - Meta needs no words

from typing import Any, Self

from django.core.validators import MaxValueValidator
from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from outshop.estimate import Estimate, NotMeasurable, Reading

from .base import Record, VersionedRecord
from .checks import check_texts
from .job import JobCard
from .media import MediaFile
from .piece import Piece


class Recording(VersionedRecord):
    """A sound or a clip of a piece, and how far its analysis is."""

    class Role(models.TextChoices):
        """Whether it was taken before or after the work."""

        BEFORE = "before", _("before")
        AFTER = "after", _("after")
        OTHER = "other", _("other")

    class Status(models.TextChoices):
        """How far the analysis is."""

        WAITING = "waiting", _("waiting")
        ANALYSING = "analysing", _("analysing")
        DONE = "done", _("done")
        FAILED = "failed", _("could not be analysed")

    piece = models.ForeignKey(Piece, models.CASCADE, related_name="recordings")
    job = models.ForeignKey(
        JobCard, models.SET_NULL, null=True, blank=True, related_name="recordings"
    )
    media = models.ForeignKey(MediaFile, models.PROTECT, related_name="recordings")
    role = models.CharField(max_length=10, choices=Role, default=Role.OTHER)
    programme = models.CharField(max_length=60, blank=True)
    taken_at = models.DateTimeField(default=timezone.now)
    full_scale_db = models.FloatField(null=True, blank=True)  # level of a full-scale sine, dB SPL
    # what the person told the bench of this recording, such as a clip's ruler
    setup = models.JSONField(default=dict, blank=True)
    status = models.CharField(max_length=20, choices=Status, default=Status.WAITING)
    progress = models.PositiveSmallIntegerField(default=0, validators=[MaxValueValidator(100)])
    error = models.TextField(blank=True)
    result = models.JSONField(null=True, blank=True)  # the bench's whole JSON
    note = models.TextField(blank=True)

    class Meta:
        ordering = (
            "-taken_at",
            "-pk",
        )

    def __str__(self) -> str:
        """Role and day."""
        return f"{self.get_role_display()} {self.taken_at:%Y-%m-%d}"


class Measurement(Record):
    """One quantity of a piece at one time, with its interval or the reason for none."""

    piece = models.ForeignKey(Piece, models.CASCADE, related_name="measurements")
    recording = models.ForeignKey(
        Recording, models.CASCADE, null=True, blank=True, related_name="measurements"
    )
    kind = models.CharField(max_length=30)  # sound, motion, current, winding, wheels, typed ...
    key = models.CharField(max_length=60)  # level, motor_speed ...
    value = models.FloatField(null=True, blank=True)
    low = models.FloatField(null=True, blank=True)
    high = models.FloatField(null=True, blank=True)
    confidence = models.FloatField(null=True, blank=True)
    unit = models.CharField(max_length=30, blank=True)  # empty for a plain ratio
    method = models.TextField(blank=True)
    reason = models.TextField(blank=True)  # why there is no value
    warnings = models.JSONField(default=list, blank=True, validators=[check_texts])
    result = models.JSONField(null=True, blank=True)  # anything else the method found
    media = models.ForeignKey(  # the logger's file it was computed from
        MediaFile, models.PROTECT, null=True, blank=True, related_name="measurements"
    )
    taken_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = (
            "-taken_at",
            "kind",
            "key",
            "pk",
        )
        indexes = (models.Index(fields=["piece", "kind", "key"], name="measurement_by_key"),)

    def __str__(self) -> str:
        """Key and value."""
        return f"{self.key}: {self.value} {self.unit}"

    @classmethod
    def of(cls, reading: Reading, **columns: Any) -> Self:
        """Spread a reading over the columns; the row is not saved yet."""
        columns |= {"unit": reading.unit, "warnings": list(reading.warnings)}
        if isinstance(reading, NotMeasurable):
            return cls(reason=reading.reason, **columns)
        return cls(
            value=reading.value,
            low=reading.low,
            high=reading.high,
            confidence=reading.confidence,
            method=reading.method,
            **columns,
        )

    @property
    def reading(self) -> Reading:
        """The estimate again, or the reason why there is none."""
        warnings = tuple(self.warnings)
        if self.value is None or self.low is None or self.high is None:
            return NotMeasurable(self.reason, self.unit, warnings)
        return Estimate(
            self.value,
            self.low,
            self.high,
            self.unit,
            self.confidence or 0.95,
            self.method,
            warnings,
        )
