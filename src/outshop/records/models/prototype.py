"""The prototype: the full-size engine, and the dated events of its life."""

# ruff: noqa: D106 - Meta needs no words

from typing import Any

from django.db import models
from django.utils.translation import gettext_lazy as _

from outshop.railway.edtf_years import read_years

from .base import NAME_LENGTH, Record, VersionedRecord
from .checks import check_arrangement, check_edtf


class Prototype(VersionedRecord):
    """The full-size locomotive or vehicle that a model shows."""

    name = models.CharField(max_length=NAME_LENGTH)
    country = models.CharField(max_length=60, blank=True)
    builder = models.CharField(max_length=NAME_LENGTH, blank=True)
    arrangement = models.CharField(max_length=80, blank=True, validators=[check_arrangement])
    notes = models.TextField(blank=True)

    class Meta:
        ordering = (
            "name",
            "pk",
        )

    def __str__(self) -> str:
        """Give its name."""
        return self.name


class LifeEvent(Record):
    """Something that happened to a prototype, dated in EDTF (ISO 8601-2)."""

    class Kind(models.TextChoices):
        """What happened."""

        BUILT = "built", _("built")
        DELIVERED = "delivered", _("delivered")
        OWNER = "owner", _("new owner")
        RENUMBERED = "renumbered", _("renumbered")
        REBUILT = "rebuilt", _("rebuilt")
        LIVERY = "livery", _("new livery")
        WITHDRAWN = "withdrawn", _("withdrawn")
        PRESERVED = "preserved", _("preserved")
        OTHER = "other", _("other")

    prototype = models.ForeignKey(Prototype, models.CASCADE, related_name="events")
    kind = models.CharField(max_length=20, choices=Kind, default=Kind.OTHER)
    date = models.CharField(max_length=100, validators=[check_edtf])
    first_year = models.IntegerField(null=True, editable=False)  # None: open beginning
    last_year = models.IntegerField(null=True, editable=False)  # None: open end
    text = models.TextField(blank=True)
    source = models.TextField(blank=True)

    class Meta:
        ordering = (
            "first_year",
            "last_year",
            "pk",
        )

    def __str__(self) -> str:
        """Date and what happened."""
        return f"{self.date} {self.get_kind_display()}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Keep the sort years in step with the date."""
        years = read_years(self.date)
        self.first_year, self.last_year = years.first, years.last
        super().save(*args, **kwargs)
