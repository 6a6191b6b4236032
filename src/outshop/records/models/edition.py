"""The edition: what a maker made, before a person owned it."""

# ruff: noqa: D106 - Meta needs no words

from django.db import models

from .base import NAME_LENGTH, VersionedRecord
from .checks import check_arrangement, check_drive, check_edtf, check_scale


class Edition(VersionedRecord):
    """One version of a maker's product; everything in it is the person's own text."""

    maker = models.CharField(max_length=NAME_LENGTH, blank=True)
    name = models.CharField(max_length=NAME_LENGTH)
    number = models.CharField(max_length=NAME_LENGTH, blank=True)
    scale = models.CharField(max_length=20, blank=True, validators=[check_scale])
    arrangement = models.CharField(max_length=80, blank=True, validators=[check_arrangement])
    made = models.CharField(max_length=100, blank=True, validators=[check_edtf])
    drive = models.JSONField(default=dict, blank=True, validators=[check_drive])
    length_mm = models.FloatField(null=True, blank=True)
    mass_g = models.FloatField(null=True, blank=True)
    notes = models.TextField(blank=True)

    class Meta:
        ordering = (
            "maker",
            "number",
            "name",
            "pk",
        )

    def __str__(self) -> str:
        """Maker, number and name, as far as they are known."""
        return " ".join(filter(None, (self.maker, self.number, self.name)))
