"""The release sheet: what was true when the piece went back into traffic."""

# ruff: noqa: D106 - Meta needs no words

from django.db import models
from django.utils import timezone

from .base import Record
from .job import JobCard
from .media import MediaFile
from .piece import Piece


class Release(Record):
    """A frozen snapshot and the PDF made from it, so that it prints the same for ever."""

    piece = models.ForeignKey(Piece, models.CASCADE, related_name="releases")
    job = models.ForeignKey(
        JobCard, models.SET_NULL, null=True, blank=True, related_name="releases"
    )
    number = models.PositiveIntegerField()  # counts from 1 for each piece
    issued_at = models.DateTimeField(default=timezone.now)
    signed_by = models.CharField(max_length=200, blank=True)
    snapshot = models.JSONField(blank=True)
    pdf = models.ForeignKey(MediaFile, models.PROTECT, null=True, related_name="releases")

    class Meta:
        ordering = (
            "-issued_at",
            "-pk",
        )
        constraints = (
            models.UniqueConstraint(fields=["piece", "number"], name="one_release_per_number"),
        )

    def __str__(self) -> str:
        """Give its number and day."""
        return f"{self.number} of {self.issued_at:%Y-%m-%d}"
