"""Parts and consumables: the drawer, what open jobs need, and what is fitted to a piece."""

# ruff: noqa: D106 - Meta needs no words

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q

from .base import NAME_LENGTH, VersionedRecord
from .job import JobCard
from .piece import Piece


class StockItem(VersionedRecord):
    """One kind of part or consumable in the drawer."""

    name = models.CharField(max_length=NAME_LENGTH)
    size = models.CharField(max_length=NAME_LENGTH, blank=True)
    in_stock = models.FloatField(default=0, validators=[MinValueValidator(0)])
    keep_at_least = models.FloatField(default=0, validators=[MinValueValidator(0)])
    unit = models.CharField(max_length=30, default="pieces")
    place = models.CharField(max_length=NAME_LENGTH, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        ordering = ("name", "size", "pk")
        constraints = (
            models.CheckConstraint(condition=Q(in_stock__gte=0), name="stock_is_not_negative"),
        )

    def __str__(self) -> str:
        """Name and size."""
        return " ".join(filter(None, (self.name, self.size)))


class JobNeed(VersionedRecord):
    """What a job card needs from the drawer."""

    card = models.ForeignKey(JobCard, models.CASCADE, related_name="needs")
    name = models.CharField(max_length=NAME_LENGTH)
    size = models.CharField(max_length=NAME_LENGTH, blank=True)
    amount = models.FloatField(default=1, validators=[MinValueValidator(0.001)])
    taken_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("card", "pk")

    def __str__(self) -> str:
        """Amount, name and size."""
        return " ".join(filter(None, (f"{self.amount:g}", self.name, self.size)))


class FittedPart(VersionedRecord):
    """A part of a piece: since when it is in, when it came out and why, and where it is kept."""

    piece = models.ForeignKey(Piece, models.CASCADE, related_name="fitted_parts")
    part = models.CharField(max_length=60)  # as in the workshop's part list
    name = models.CharField(max_length=NAME_LENGTH, blank=True)
    original = models.BooleanField(default=False)
    fitted_on = models.DateField(null=True, blank=True)
    removed_on = models.DateField(null=True, blank=True)
    failed = models.BooleanField(default=False)  # worn out or broken, not just taken out
    kept_in = models.CharField(max_length=NAME_LENGTH, blank=True)  # bag or drawer
    note = models.TextField(blank=True)

    class Meta:
        ordering = ("piece", "part", "-fitted_on", "-pk")
        constraints = (
            models.CheckConstraint(
                condition=Q(fitted_on__isnull=True)
                | Q(removed_on__isnull=True)
                | Q(removed_on__gte=models.F("fitted_on")),
                name="taken_out_after_fitted",
                violation_error_message="a part cannot come out before it was fitted",
            ),
        )
        indexes = (models.Index(fields=["part"], name="fitted_by_part"),)

    def __str__(self) -> str:
        """Give its name."""
        return self.name or self.part
