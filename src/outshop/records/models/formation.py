"""The layout's line, the vehicles on the shelf, and the trains made up from them."""

# ruff: noqa: D106 - Meta needs no words

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

from .base import NAME_LENGTH, Record, VersionedRecord
from .checks import check_edtf
from .piece import Piece

ABOVE_ZERO = [MinValueValidator(0.1)]
NOT_NEGATIVE = [MinValueValidator(0)]


class Line(VersionedRecord):
    """A layout's line, walked from end to end; its sections in order are below it."""

    name = models.CharField(max_length=NAME_LENGTH)
    loop_mm = models.FloatField(null=True, blank=True, validators=ABOVE_ZERO)
    # the shortest platform a passenger train stops at, and the couplings that its places for
    # uncoupling work with, separated by commas; empty for any
    platform_mm = models.FloatField(null=True, blank=True, validators=ABOVE_ZERO)
    couplers = models.CharField(max_length=NAME_LENGTH, blank=True)
    supply_a = models.FloatField(null=True, blank=True, validators=NOT_NEGATIVE)
    curve_constant = models.FloatField(null=True, blank=True, validators=NOT_NEGATIVE)
    notes = models.TextField(blank=True)

    class Meta:
        ordering = ("name", "pk")

    def __str__(self) -> str:
        """Give its name."""
        return self.name


class LineSection(Record):
    """One piece of a line in running order; radius 0 is straight, grade + is up."""

    class Side(models.TextChoices):
        """Which way a curve turns, seen in running order."""

        LEFT = "left", _("left")
        RIGHT = "right", _("right")

    class Place(models.TextChoices):
        """What lies beside the track there."""

        LOOP = "loop", _("loop")
        PLATFORM = "platform", _("platform")

    line = models.ForeignKey(Line, models.CASCADE, related_name="sections")
    position = models.PositiveIntegerField()
    length_mm = models.FloatField(validators=ABOVE_ZERO)
    grade_permille = models.FloatField(
        default=0, validators=[MinValueValidator(-200), MaxValueValidator(200)]
    )
    radius_mm = models.FloatField(default=0, validators=NOT_NEGATIVE)
    side = models.CharField(max_length=5, choices=Side, default=Side.LEFT)
    place = models.CharField(max_length=10, choices=Place, blank=True)
    name = models.CharField(max_length=NAME_LENGTH, blank=True)

    class Meta:
        ordering = ("line", "position", "pk")

    def __str__(self) -> str:
        """Give its number and name."""
        return " ".join(filter(None, (str(self.position + 1), self.name)))


class ShelfVehicle(VersionedRecord):
    """A wagon or coach that can go into a train."""

    name = models.CharField(max_length=NAME_LENGTH, unique=True)
    kind = models.CharField(max_length=40, default="covered")
    years = models.CharField(max_length=100, blank=True, validators=[check_edtf])
    length_mm = models.FloatField(validators=ABOVE_ZERO)
    mass_g = models.FloatField(validators=ABOVE_ZERO)
    rolling_permille = models.FloatField(null=True, blank=True, validators=NOT_NEGATIVE)
    rolling_low_permille = models.FloatField(null=True, blank=True, validators=NOT_NEGATIVE)
    rolling_high_permille = models.FloatField(null=True, blank=True, validators=NOT_NEGATIVE)
    min_radius_mm = models.FloatField(default=0, validators=NOT_NEGATIVE)
    front = models.CharField(max_length=60, blank=True)
    rear = models.CharField(max_length=60, blank=True)
    country = models.CharField(max_length=60, blank=True)
    axles = models.PositiveIntegerField(null=True, blank=True)
    dangerous = models.BooleanField(default=False)
    current_a = models.FloatField(null=True, blank=True, validators=NOT_NEGATIVE)
    built = models.CharField(max_length=100, blank=True, validators=[check_edtf])
    real_tonnes = models.FloatField(null=True, blank=True, validators=ABOVE_ZERO)
    # a coach shortened more than its scale, such as 100 beside 87
    length_scale = models.FloatField(null=True, blank=True, validators=ABOVE_ZERO)
    braked = models.BooleanField(null=True, blank=True)
    loaded = models.BooleanField(null=True, blank=True)
    heating = models.BooleanField(null=True, blank=True)
    livery = models.CharField(max_length=NAME_LENGTH, blank=True)
    pool = models.BooleanField(null=True, blank=True)  # of an international pool of wagons
    piece = models.ForeignKey(
        Piece, models.SET_NULL, null=True, blank=True, related_name="vehicles"
    )

    class Meta:
        ordering = ("kind", "name", "pk")

    def __str__(self) -> str:
        """Give its name."""
        return self.name


class Formation(VersionedRecord):
    """A made-up train: the engine as measured, the line, the wish, and the vehicles in order."""

    name = models.CharField(max_length=NAME_LENGTH)
    line = models.ForeignKey(Line, models.PROTECT, related_name="formations")
    piece = models.ForeignKey(
        Piece, models.SET_NULL, null=True, blank=True, related_name="formations"
    )
    engine_length_mm = models.FloatField(validators=ABOVE_ZERO)
    engine_mass_g = models.FloatField(validators=ABOVE_ZERO)
    pull_g = models.FloatField(validators=ABOVE_ZERO)
    low_g = models.FloatField(null=True, blank=True, validators=NOT_NEGATIVE)
    high_g = models.FloatField(null=True, blank=True, validators=NOT_NEGATIVE)
    engine_min_radius_mm = models.FloatField(default=0, validators=NOT_NEGATIVE)
    engine_current_a = models.FloatField(null=True, blank=True, validators=NOT_NEGATIVE)
    rear = models.CharField(max_length=60, default="loop")
    year = models.PositiveIntegerField(null=True, blank=True)
    month = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(12)]
    )
    recipe = models.CharField(max_length=60, blank=True)
    country = models.CharField(max_length=60, blank=True)
    # the full-size engine and its hardest stretch, for what the real train would have been
    real_effort_kn = models.FloatField(null=True, blank=True, validators=ABOVE_ZERO)
    real_engine_t = models.FloatField(null=True, blank=True, validators=ABOVE_ZERO)
    real_speed_km_h = models.FloatField(null=True, blank=True, validators=NOT_NEGATIVE)
    real_grade_permille = models.FloatField(null=True, blank=True, validators=NOT_NEGATIVE)

    class Meta:
        ordering = ("name", "pk")

    def __str__(self) -> str:
        """Give its name."""
        return self.name


class FormationPlace(Record):
    """One vehicle of a formation at its place behind the engine."""

    formation = models.ForeignKey(Formation, models.CASCADE, related_name="places")
    vehicle = models.ForeignKey(ShelfVehicle, models.CASCADE, related_name="places")
    position = models.PositiveIntegerField()
    turned = models.BooleanField(default=False)

    class Meta:
        ordering = ("formation", "position", "pk")

    def __str__(self) -> str:
        """Give its place and the vehicle."""
        return f"{self.position + 1} {self.vehicle}"


class FormationDemand(Record):
    """A vehicle that must be in a train, or must not."""

    class Demand(models.TextChoices):
        """Which of the two."""

        FIXED = "fixed", _("must be in it")
        FORBIDDEN = "forbidden", _("must not be in it")

    formation = models.ForeignKey(Formation, models.CASCADE, related_name="demands")
    vehicle = models.ForeignKey(ShelfVehicle, models.CASCADE, related_name="demands")
    demand = models.CharField(max_length=20, choices=Demand)

    class Meta:
        ordering = ("formation", "vehicle")
        constraints = (
            models.UniqueConstraint(fields=["formation", "vehicle"], name="one_demand_a_vehicle"),
        )

    def __str__(self) -> str:
        """Give the vehicle and what is demanded."""
        return f"{self.vehicle}: {self.get_demand_display()}"


class TrainRecipe(VersionedRecord):
    """A kind of train that a person wrote; ``key`` is the recipe's own id."""

    key = models.CharField(max_length=60, unique=True)
    text = models.TextField()

    class Meta:
        ordering = ("key",)

    def __str__(self) -> str:
        """Give its id."""
        return self.key
