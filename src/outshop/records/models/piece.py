"""The piece: one owned model."""

# ruff: noqa: D106 - Meta needs no words

import unicodedata
from typing import Any

from django.core.validators import MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

from .base import NAME_LENGTH, VersionedRecord
from .checks import check_arrangement, check_drive, check_edtf, check_scale
from .edition import Edition
from .prototype import Prototype


def folded(*texts: str) -> str:
    """Join texts so that capitals, accents and letter forms make no difference to a search."""
    plain = unicodedata.normalize("NFKD", " ".join(texts).casefold())
    return "".join(c for c in plain if not unicodedata.combining(c))


class Piece(VersionedRecord):
    """One owned (or wanted) model; empty fields fall back on its edition."""

    class State(models.TextChoices):
        """Where a piece stands in its life with the person."""

        WANTED = "wanted", _("wanted")
        ARRIVED = "arrived", _("arrived")
        ON_THE_BENCH = "on_the_bench", _("on the bench")
        RUNNING_IN = "running_in", _("running in")
        IN_TRAFFIC = "in_traffic", _("in traffic")
        STORED = "stored", _("stored")
        SOLD = "sold", _("sold")

    class Kind(models.TextChoices):
        """What kind of vehicle it shows."""

        STEAM = "steam", _("steam locomotive")
        ELECTRIC = "electric", _("electric locomotive")
        DIESEL = "diesel", _("diesel locomotive")
        RAILCAR = "railcar", _("railcar")
        COACH = "coach", _("coach")
        WAGON = "wagon", _("wagon")
        OTHER = "other", _("other")

    name = models.CharField(max_length=NAME_LENGTH)
    road_number = models.CharField(max_length=NAME_LENGTH, blank=True)
    kind = models.CharField(max_length=20, choices=Kind, default=Kind.STEAM)
    state = models.CharField(max_length=20, choices=State, default=State.ARRIVED)
    edition = models.ForeignKey(
        Edition, models.PROTECT, null=True, blank=True, related_name="pieces"
    )
    prototype = models.ForeignKey(
        Prototype, models.PROTECT, null=True, blank=True, related_name="pieces"
    )
    scale = models.CharField(max_length=20, blank=True, validators=[check_scale])
    # engine and tender in one text, as in 1'D1'+2'2'
    arrangement = models.CharField(max_length=80, blank=True, validators=[check_arrangement])
    drive = models.JSONField(default=dict, blank=True, validators=[check_drive])
    length_mm = models.FloatField(null=True, blank=True, validators=[MinValueValidator(0.1)])
    mass_g = models.FloatField(null=True, blank=True, validators=[MinValueValidator(0.1)])
    shows = models.CharField(max_length=100, blank=True, validators=[check_edtf])
    arrived_on = models.DateField(null=True, blank=True)
    place = models.CharField(max_length=NAME_LENGTH, blank=True)
    notes = models.TextField(blank=True)
    cover = models.ForeignKey(
        "records.Photo", models.SET_NULL, null=True, blank=True, related_name="+"
    )
    search_text = models.TextField(blank=True, editable=False)

    class Meta:
        ordering = (
            "name",
            "pk",
        )
        indexes = (
            models.Index(fields=["name", "id"], name="piece_by_name"),
            models.Index(fields=["state", "name"], name="piece_by_state"),
            models.Index(fields=["changed_at"], name="piece_by_change"),
        )

    def __str__(self) -> str:
        """Name and road number."""
        return " ".join(filter(None, (self.name, self.road_number)))

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Keep the searched text in step."""
        self.search_text = folded(
            self.name,
            self.road_number,
            self.place,
            self.notes,
            self.arrangement,
            str(self.edition or ""),
            str(self.prototype or ""),
        )
        super().save(*args, **kwargs)

    @property
    def known_scale(self) -> str:
        """Its own scale, or its edition's."""
        return self.scale or (self.edition.scale if self.edition else "")

    @property
    def known_arrangement(self) -> str:
        """Its own wheel arrangement, or its edition's."""
        return self.arrangement or (self.edition.arrangement if self.edition else "")

    @property
    def known_drive(self) -> dict[str, Any]:
        """Its own drive, or its edition's."""
        return dict(self.drive or (self.edition.drive if self.edition else {}))
