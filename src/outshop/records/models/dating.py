"""What speaks for which years, and what is still to be found out."""

# ruff: noqa: D106 - Meta needs no words

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

from .base import NAME_LENGTH, Record, VersionedRecord
from .checks import check_edtf
from .edition import Edition
from .media import Photo
from .piece import Piece

TRUST = (MinValueValidator(0.01), MaxValueValidator(0.99))  # nothing is certain, nothing is naught


class Evidence(VersionedRecord):
    """One feature of model, box or papers with the years in which it is at home."""

    class About(models.TextChoices):
        """Which question it speaks to."""

        EDITION = "edition", _("when the model was made")
        PROTOTYPE = "prototype", _("which years it shows")

    piece = models.ForeignKey(Piece, models.CASCADE, related_name="evidence")
    about = models.CharField(max_length=10, choices=About, default=About.EDITION)
    part = models.CharField(max_length=60, blank=True)
    what = models.CharField(max_length=NAME_LENGTH)
    window = models.CharField(max_length=100, validators=[check_edtf])
    trust = models.FloatField(default=0.9, validators=TRUST)
    source = models.TextField(blank=True)
    # set when it was read off the edition's feature table
    feature = models.CharField(max_length=NAME_LENGTH, blank=True)
    variant = models.CharField(max_length=NAME_LENGTH, blank=True)
    photo = models.ForeignKey(Photo, models.SET_NULL, null=True, blank=True, related_name="+")

    class Meta:
        verbose_name = _("evidence")
        ordering = (
            "about",
            "pk",
        )

    def __str__(self) -> str:
        """Give the feature and its years."""
        return f"{self.what}: {self.window}"


class EditionFeature(Record):
    """How a feature looks in one version of an edition, and in which years."""

    edition = models.ForeignKey(Edition, models.CASCADE, related_name="features")
    version_name = models.CharField(max_length=NAME_LENGTH, blank=True)
    part = models.CharField(max_length=60, blank=True)
    feature = models.CharField(max_length=NAME_LENGTH)
    variant = models.CharField(max_length=NAME_LENGTH)
    window = models.CharField(max_length=100, validators=[check_edtf])
    trust = models.FloatField(default=0.9, validators=TRUST)
    source = models.TextField(blank=True)

    class Meta:
        ordering = (
            "edition",
            "pk",
        )

    def __str__(self) -> str:
        """Feature and variant."""
        return f"{self.feature}: {self.variant}"


class ResearchNote(VersionedRecord):
    """A question about a piece, where one looked, what was found, what would settle it."""

    piece = models.ForeignKey(Piece, models.CASCADE, related_name="research")
    question = models.CharField(max_length=NAME_LENGTH)
    source = models.TextField(blank=True)
    finding = models.TextField(blank=True)
    would_settle = models.TextField(blank=True)
    settled = models.BooleanField(default=False)
    photo = models.ForeignKey(Photo, models.SET_NULL, null=True, blank=True, related_name="+")

    class Meta:
        verbose_name = _("research note")
        ordering = (
            "settled",
            "pk",
        )

    def __str__(self) -> str:
        """Give the question."""
        return self.question
