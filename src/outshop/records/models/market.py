"""Lots on offer, realised prices, and what pieces are worth."""

# ruff: noqa: D106 - Meta needs no words

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from outshop.errors import NotationError
from outshop.market.money import currency

from .base import NAME_LENGTH, Record, VersionedRecord
from .edition import Edition
from .media import MediaFile
from .piece import Piece

DIGITS, PLACES = 16, 4  # enough for any currency


def check_currency(code: str) -> None:
    """Accept an ISO 4217 code."""
    try:
        currency(code)
    except NotationError as problem:
        raise ValidationError(str(problem)) from problem


class Lot(VersionedRecord):
    """Something on offer, and what the person wants it for."""

    class State(models.TextChoices):
        """How it stands."""

        WATCHED = "watched", _("watched")
        BID = "bid", _("bid on")
        BOUGHT = "bought", _("bought")
        LOST = "lost", _("lost")
        LET_GO = "let_go", _("let go")

    class Purpose(models.TextChoices):
        """What it is wanted for."""

        RUNNER = "runner", _("to run")
        DISPLAY = "display", _("to show")
        PARTS = "parts", _("for parts")
        TRAIN = "train", _("for a train")

    title = models.CharField(max_length=NAME_LENGTH)
    seller = models.CharField(max_length=NAME_LENGTH, blank=True)
    number = models.CharField(max_length=60, blank=True)
    state = models.CharField(max_length=20, choices=State, default=State.WATCHED)
    purpose = models.CharField(max_length=20, choices=Purpose, default=Purpose.RUNNER)
    listing = models.TextField(blank=True)
    pictures_show = models.TextField(blank=True)
    pictures_hide = models.TextField(blank=True)
    ends_on = models.DateField(null=True, blank=True)
    return_by = models.DateField(null=True, blank=True)
    currency = models.CharField(max_length=3, default="EUR", validators=[check_currency])
    terms = models.JSONField(default=dict, blank=True)  # as typed; amounts as decimal text
    outlook = models.JSONField(default=dict, blank=True)  # grades, repairs, accepted regret
    hammer = models.DecimalField(max_digits=DIGITS, decimal_places=PLACES, null=True, blank=True)
    edition = models.ForeignKey(
        Edition, models.SET_NULL, null=True, blank=True, related_name="lots"
    )
    # one piece comes from one lot: a lot sold twice is a slip
    piece = models.OneToOneField(
        Piece, models.SET_NULL, null=True, blank=True, related_name="bought_as"
    )
    note = models.TextField(blank=True)

    class Meta:
        ordering = (
            "ends_on",
            "pk",
        )

    def __str__(self) -> str:
        """Give its title."""
        return self.title


class LotFile(Record):
    """A picture or saved page of a lot."""

    lot = models.ForeignKey(Lot, models.CASCADE, related_name="files")
    media = models.ForeignKey(MediaFile, models.PROTECT, related_name="lots")
    caption = models.CharField(max_length=NAME_LENGTH, blank=True)

    class Meta:
        ordering = ("pk",)

    def __str__(self) -> str:
        """Caption, or its number."""
        return self.caption or f"file {self.pk}"


class Sale(Record):
    """A realised price of a comparable piece."""

    edition = models.ForeignKey(
        Edition, models.SET_NULL, null=True, blank=True, related_name="sales"
    )
    what = models.CharField(max_length=NAME_LENGTH)
    sold_on = models.DateField()
    price = models.DecimalField(
        max_digits=DIGITS, decimal_places=PLACES, validators=[MinValueValidator(0.0001)]
    )
    currency = models.CharField(max_length=3, validators=[check_currency])
    condition = models.FloatField(validators=[MinValueValidator(0), MaxValueValidator(1)])
    parts = models.JSONField(default=list, blank=True)  # [[part, condition], ...] when told so
    box = models.BooleanField(default=False)
    papers = models.BooleanField(default=False)
    working = models.BooleanField(default=False)
    source = models.TextField(blank=True)

    class Meta:
        ordering = (
            "-sold_on",
            "pk",
        )
        constraints = (
            models.UniqueConstraint(
                fields=["what", "sold_on", "price", "currency"], name="one_sale_once"
            ),
        )

    def __str__(self) -> str:
        """Give what, price and day."""
        return f"{self.what}: {self.price.normalize():f} {self.currency} on {self.sold_on}"


class Valuation(Record):
    """What a piece is worth on one basis; the bases are never mixed."""

    class Basis(models.TextChoices):
        """What kind of value."""

        PAID = "paid", _("paid")
        MARKET = "market", _("market value")
        REPLACEMENT = "replacement", _("replacement value")
        AGREED = "agreed", _("agreed value")
        UPKEEP = "upkeep", _("spent on upkeep")

    piece = models.ForeignKey(Piece, models.CASCADE, related_name="valuations")
    basis = models.CharField(max_length=20, choices=Basis, default=Basis.MARKET)
    amount = models.DecimalField(
        max_digits=DIGITS, decimal_places=PLACES, validators=[MinValueValidator(0)]
    )
    currency = models.CharField(max_length=3, default="EUR", validators=[check_currency])
    valued_on = models.DateField(default=timezone.localdate)
    source = models.TextField(blank=True)

    class Meta:
        ordering = (
            "-valued_on",
            "-pk",
        )

    def __str__(self) -> str:
        """Basis and amount."""
        return f"{self.get_basis_display()} {self.amount.normalize():f} {self.currency}"
