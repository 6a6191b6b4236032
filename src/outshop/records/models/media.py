"""Files that came from outside, kept by checksum, and the photos among them."""

# ruff: noqa: D106 - Meta needs no words

from django.db import models
from django.utils.translation import gettext_lazy as _

from .base import Record
from .piece import Piece


class MediaFile(Record):
    """An original, kept unchanged under its SHA-256; its name is data and never a path."""

    class Kind(models.TextChoices):
        """What the file is good for."""

        SOUND = "sound", _("sound")
        VIDEO = "video", _("video")
        PICTURE = "picture", _("picture")
        DOCUMENT = "document", _("document")

    sha256 = models.CharField(max_length=64, unique=True, editable=False)
    size = models.PositiveBigIntegerField()
    kind = models.CharField(max_length=20, choices=Kind)
    media_type = models.CharField(max_length=100, blank=True)
    original_name = models.TextField(blank=True)

    class Meta:
        ordering = ("pk",)

    def __str__(self) -> str:
        """Give the name it came with."""
        return self.original_name or self.sha256[:12]


class Photo(Record):
    """A picture of a piece, of one finding or of one step of a job."""

    piece = models.ForeignKey(Piece, models.CASCADE, related_name="photos")
    media = models.ForeignKey(MediaFile, models.PROTECT, related_name="photos")
    finding = models.ForeignKey(
        "records.Finding", models.SET_NULL, null=True, blank=True, related_name="photos"
    )
    step = models.ForeignKey(
        "records.JobStep", models.SET_NULL, null=True, blank=True, related_name="photos"
    )
    caption = models.TextField(blank=True)
    taken_at = models.DateTimeField(null=True, blank=True)
    position = models.PositiveIntegerField(default=0)

    class Meta:
        ordering = (
            "position",
            "pk",
        )

    def __str__(self) -> str:
        """Give the caption, or the file's name."""
        return self.caption or str(self.media)
