"""Clocks and slip of a run: each figure a measurement, the whole result with the first."""

from collections.abc import Mapping
from typing import Any

from outshop.estimate import Reading
from outshop.records.models import Measurement, Piece
from outshop.records.queries.clocks import KIND

from .recordings import add_together, remove_together
from .saving import use_case


@use_case
def keep_clocks(
    *, piece: Piece, readings: Mapping[str, Reading], result: Mapping[str, Any], token: str = ""
) -> list[Measurement]:
    """Keep what the clocks of one run say, and the slip where there is one."""
    return add_together(piece=piece, kind=KIND, readings=readings, result=result, token=token)


@use_case
def remove_clocks(*, piece: Piece, pks: tuple[int, ...]) -> None:
    """Take readings back that were kept by a slip of the hand."""
    remove_together(piece=piece, kind=KIND, pks=pks)
