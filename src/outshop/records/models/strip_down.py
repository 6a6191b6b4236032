"""The strip-down plan of an edition, or of a piece that has none."""

# ruff: noqa: D106 - Meta needs no words

from typing import Any

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q

from outshop.errors import OutshopError
from outshop.workshop.plans import plan_from_json
from outshop.workshop.strip_down import StripPlan

from .base import VersionedRecord
from .edition import Edition
from .piece import Piece


def check_plan(value: Any) -> None:
    """Accept a plan as the workshop reads it."""
    try:
        plan_from_json(value)
    except OutshopError as problem:
        raise ValidationError(str(problem)) from problem


class StripDownPlan(VersionedRecord):
    """A plan by construction, adapted to the model at hand."""

    edition = models.OneToOneField(
        Edition, models.CASCADE, null=True, blank=True, related_name="strip_down"
    )
    piece = models.OneToOneField(
        Piece, models.CASCADE, null=True, blank=True, related_name="strip_down"
    )
    construction = models.CharField(max_length=30)
    plan = models.JSONField(validators=[check_plan])

    class Meta:
        ordering = ("pk",)
        constraints = (
            models.CheckConstraint(
                condition=Q(edition__isnull=True) ^ Q(piece__isnull=True),
                name="plan_of_edition_or_piece",
            ),
        )

    def __str__(self) -> str:
        """Give the construction's name."""
        return str(self.plan.get("name", self.construction))

    @property
    def known(self) -> StripPlan:
        """The plan as the workshop takes it."""
        return plan_from_json(self.plan)
