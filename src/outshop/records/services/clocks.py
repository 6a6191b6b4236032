"""Clocks and slip of a run: each figure a measurement, the whole result with the first."""

from collections.abc import Mapping
from typing import Any

from django.utils import timezone

from outshop.estimate import Reading
from outshop.records.models import Measurement, Piece
from outshop.records.queries.clocks import KIND

from .recordings import add_measurement, remove_measurement
from .saving import use_case


@use_case
def keep_clocks(
    *, piece: Piece, readings: Mapping[str, Reading], result: Mapping[str, Any], token: str = ""
) -> list[Measurement]:
    """Keep what the clocks of one run say, and the slip where there is one."""
    now = timezone.now()
    return [
        add_measurement(
            piece=piece,
            kind=KIND,
            key=key,
            reading=reading,
            taken_at=now,
            result=result if number == 0 else None,
            token=f"{token[:32]}-{key}"[:64] if token else "",
        )
        for number, (key, reading) in enumerate(readings.items())
    ]


@use_case
def remove_clocks(*, piece: Piece, pks: tuple[int, ...]) -> None:
    """Take readings back that were kept by a slip of the hand."""
    for row in Measurement.objects.filter(piece=piece, kind=KIND, recording=None, pk__in=pks):
        remove_measurement(measurement=row)
