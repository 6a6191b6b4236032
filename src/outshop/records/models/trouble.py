"""What ails a piece: answers to the diagnosis' questions, and what it turned out to be."""

# ruff: noqa: D106 - Meta needs no words

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from .base import NAME_LENGTH, Record, VersionedRecord
from .job import JobCard
from .piece import Piece

DECADE = (MinValueValidator(1840), MaxValueValidator(2100))


class Trouble(VersionedRecord):
    """One trouble of a piece: what was asked and answered, until its cause is confirmed."""

    class System(models.TextChoices):
        """How the model is fed and told what to do."""

        UNKNOWN = "unknown", _("not known")
        DC2 = "dc2", _("two-rail DC")
        AC3 = "ac3", _("three-rail AC")
        S_AC = "s-ac", _("two-rail AC")
        DIGITAL2 = "digital2", _("two-rail with decoder")
        DIGITAL3 = "digital3", _("three-rail with decoder")

    class Motor(models.TextChoices):
        """What makes the motor's field."""

        UNKNOWN = "unknown", _("not known")
        PERMANENT_MAGNET = "permanent-magnet", _("permanent magnet")
        FIELD_COIL = "field-coil", _("field coil")

    piece = models.ForeignKey(Piece, models.CASCADE, related_name="troubles")
    begun_on = models.DateField(default=timezone.localdate)
    system = models.CharField(max_length=20, choices=System, default=System.UNKNOWN)
    motor = models.CharField(max_length=20, choices=Motor, default=Motor.UNKNOWN)
    decade = models.PositiveSmallIntegerField(null=True, blank=True, validators=DECADE)
    answers = models.JSONField(default=dict, blank=True)  # sign -> true or false
    measured = models.JSONField(default=dict, blank=True)  # quantity -> estimate or verdict
    job = models.ForeignKey(
        JobCard, models.SET_NULL, null=True, blank=True, related_name="troubles"
    )
    cause = models.CharField(max_length=60, blank=True)  # confirmed
    confirmed_at = models.DateTimeField(null=True, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        verbose_name = _("trouble")
        ordering = ("-begun_on", "-pk")

    def __str__(self) -> str:
        """Give its day."""
        return f"{self.begun_on}"


class CauseCounts(Record):
    """Counts of confirmed causes taken over from another shop."""

    name = models.CharField(max_length=NAME_LENGTH, unique=True)
    counts = models.JSONField(default=dict, blank=True)  # cause -> number

    class Meta:
        ordering = ("name",)

    def __str__(self) -> str:
        """Give the name it was taken over under."""
        return self.name
