"""Looking a piece over: what state each axle and each part was found in."""

# ruff: noqa: D106 - Meta needs no words

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from .base import Record, VersionedRecord
from .piece import Piece


class Inspection(VersionedRecord):
    """One look over a piece, on one day."""

    piece = models.ForeignKey(Piece, models.CASCADE, related_name="inspections")
    made_on = models.DateField(default=timezone.localdate)
    inspector = models.CharField(max_length=200, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        ordering = (
            "-made_on",
            "-pk",
        )

    def __str__(self) -> str:
        """Give its day."""
        return f"{self.made_on}"


class Finding(Record):
    """The state of one axle or one part, as it was seen."""

    class TargetKind(models.TextChoices):
        """What was looked at."""

        AXLE = "axle", _("axle")
        PART = "part", _("part")

    inspection = models.ForeignKey(Inspection, models.CASCADE, related_name="findings")
    target_kind = models.CharField(max_length=10, choices=TargetKind)
    target = models.CharField(max_length=60)  # an axle's label or a part's key
    state = models.CharField(max_length=40)
    note = models.TextField(blank=True)

    class Meta:
        ordering = (
            "target_kind",
            "pk",
        )
        constraints = (
            models.UniqueConstraint(
                fields=["inspection", "target_kind", "target"], name="one_finding_per_target"
            ),
        )

    def __str__(self) -> str:
        """Target and state."""
        return f"{self.get_target_kind_display()} {self.target}: {self.state}"
