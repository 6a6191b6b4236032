"""The job card: ordered steps with tools, time and cautions."""

# ruff: noqa: D106 - Meta needs no words

from django.core.validators import MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

from .base import NAME_LENGTH, VersionedRecord
from .checks import check_texts
from .inspection import Inspection
from .piece import Piece


class JobCard(VersionedRecord):
    """One visit of a piece to the bench."""

    class State(models.TextChoices):
        """How far it is."""

        OPEN = "open", _("open")
        DONE = "done", _("done")
        GIVEN_UP = "given_up", _("given up")

    piece = models.ForeignKey(Piece, models.CASCADE, related_name="jobs")
    inspection = models.ForeignKey(
        Inspection, models.SET_NULL, null=True, blank=True, related_name="jobs"
    )
    title = models.CharField(max_length=NAME_LENGTH)
    state = models.CharField(max_length=20, choices=State, default=State.OPEN)
    finished_at = models.DateTimeField(null=True, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        ordering = (
            "-created_at",
            "-pk",
        )

    def __str__(self) -> str:
        """Give its title."""
        return self.title


class JobStep(VersionedRecord):
    """One thing to do; ``reverses`` names the strip-down step that it undoes."""

    card = models.ForeignKey(JobCard, models.CASCADE, related_name="steps")
    order = models.PositiveIntegerField()
    phase = models.CharField(max_length=20, blank=True)  # as on the workshop's card
    procedure = models.CharField(max_length=60, blank=True)  # key of the step on that card
    title = models.CharField(max_length=NAME_LENGTH)
    text = models.TextField(blank=True)
    tools = models.JSONField(default=list, blank=True, validators=[check_texts])
    consumables = models.JSONField(default=list, blank=True, validators=[check_texts])
    cautions = models.JSONField(default=list, blank=True, validators=[check_texts])
    minutes = models.FloatField(default=0, validators=[MinValueValidator(0)])
    reverses = models.ForeignKey(
        "self", models.SET_NULL, null=True, blank=True, related_name="reversed_by"
    )
    done_at = models.DateTimeField(null=True, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        ordering = (
            "card",
            "order",
        )
        constraints = (
            models.UniqueConstraint(fields=["card", "order"], name="one_step_per_order"),
        )

    def __str__(self) -> str:
        """Order and title."""
        return f"{self.order}. {self.title}"
