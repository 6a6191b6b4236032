"""Clocks and slip of a piece, as they were kept."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from outshop.estimate import Reading
from outshop.records.models import Measurement, Piece

KIND = "clock"
MOST = 12  # looked back at


@dataclass(frozen=True, slots=True)
class KeptClocks:
    """Clocks of one run, kept together: readings by key, the whole result, the rows' keys."""

    taken_at: datetime
    readings: tuple[tuple[str, Reading], ...]
    result: Mapping[str, Any]
    pks: tuple[int, ...]

    @property
    def clocks(self) -> list[str]:
        """The names of the clocks."""
        return [str(c.get("name", "")) for c in self.result.get("clocks", ())]


def kept_clocks(piece: Piece, most: int = MOST) -> list[KeptClocks]:
    """Give the latest readings of clocks, newest first."""
    rows = Measurement.objects.filter(piece=piece, kind=KIND, recording=None)
    groups: dict[datetime, list[Measurement]] = {}
    for row in rows.order_by("-taken_at", "pk"):
        groups.setdefault(row.taken_at, []).append(row)
    return [
        KeptClocks(
            when,
            tuple((m.key, m.reading) for m in members),
            next((m.result for m in members if m.result), {}) or {},
            tuple(m.pk for m in members),
        )
        for when, members in list(groups.items())[:most]
    ]
