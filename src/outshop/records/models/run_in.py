"""The run-in clock, its readings, and the running hours of a piece."""

# ruff: noqa: D106 - Meta needs no words

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from .base import Record, VersionedRecord
from .checks import check_legs
from .job import JobCard
from .piece import Piece


class Direction(models.TextChoices):
    """Which way it runs."""

    FORWARD = "forward", _("forward")
    REVERSE = "reverse", _("reverse")


class RunIn(VersionedRecord):
    """A planned run: legs of so many minutes each way.

    The clock is not stored: it is the sum of the segments, so that it goes on through a
    reload or a closed laptop.
    """

    class State(models.TextChoices):
        """Whether the clock goes."""

        READY = "ready", _("ready")
        RUNNING = "running", _("running")
        PAUSED = "paused", _("paused")
        FINISHED = "finished", _("finished")
        STOPPED = "stopped", _("stopped at a limit")

    piece = models.ForeignKey(Piece, models.CASCADE, related_name="run_ins")
    job = models.ForeignKey(JobCard, models.SET_NULL, null=True, blank=True, related_name="run_ins")
    state = models.CharField(max_length=20, choices=State, default=State.READY)
    legs = models.JSONField(validators=[check_legs])  # [{"direction", "minutes"}, ...]
    leg = models.PositiveIntegerField(default=0)  # the one that runs now, from 0
    current_limit_a = models.FloatField(null=True, blank=True, validators=[MinValueValidator(0)])
    temperature_limit_c = models.FloatField(null=True, blank=True)
    stop_reason = models.TextField(blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = (
            "-created_at",
            "-pk",
        )

    def __str__(self) -> str:
        """Day and state."""
        return f"{self.created_at:%Y-%m-%d} {self.get_state_display()}"


class RunInSegment(Record):
    """An unbroken piece of running within a leg; ``ended_at`` is empty while it runs."""

    run_in = models.ForeignKey(RunIn, models.CASCADE, related_name="segments")
    leg = models.PositiveIntegerField()
    started_at = models.DateTimeField(default=timezone.now)
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = (
            "started_at",
            "pk",
        )

    def __str__(self) -> str:
        """Leg and start."""
        return f"leg {self.leg} from {self.started_at:%H:%M:%S}"


class RunInSample(Record):
    """Readings taken while running in."""

    run_in = models.ForeignKey(RunIn, models.CASCADE, related_name="samples")
    minute = models.FloatField(validators=[MinValueValidator(0)])  # of running, both ways together
    direction = models.CharField(max_length=10, choices=Direction)
    current_a = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(0), MaxValueValidator(50)]
    )
    temperature_c = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(-50), MaxValueValidator(200)]
    )
    speed_km_h = models.FloatField(  # scale speed
        null=True, blank=True, validators=[MinValueValidator(0), MaxValueValidator(1000)]
    )
    level_db = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(-200), MaxValueValidator(200)]
    )
    note = models.TextField(blank=True)

    class Meta:
        ordering = (
            "minute",
            "pk",
        )

    def __str__(self) -> str:
        """Give the minute."""
        return f"minute {self.minute:.1f}"


class RunningLog(Record):
    """Minutes that a piece has run."""

    piece = models.ForeignKey(Piece, models.CASCADE, related_name="running_log")
    run_in = models.OneToOneField(
        RunIn, models.SET_NULL, null=True, blank=True, related_name="log_entry"
    )
    ran_at = models.DateTimeField(default=timezone.now)
    minutes = models.FloatField(validators=[MinValueValidator(0.01), MaxValueValidator(100_000)])
    note = models.TextField(blank=True)

    class Meta:
        ordering = (
            "-ran_at",
            "-pk",
        )
        indexes = (models.Index(fields=["piece", "ran_at"], name="running_by_piece"),)

    def __str__(self) -> str:
        """Minutes and day."""
        return f"{self.minutes:g} min on {self.ran_at:%Y-%m-%d}"
