"""Speed tables of a piece, as they were kept, measured again from their runs."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from outshop.bench.motion.speed_table import SpeedTable, measure, rows_from_json
from outshop.errors import InputError, NotationError
from outshop.railway.scales import Scale, scale
from outshop.records.models import Measurement, Piece, Recording

KIND = "speed_table"
MOST = 24  # tables looked back at


@dataclass(frozen=True, slots=True)
class KeptTable:
    """One speed table of a piece.

    Parameters
    ----------
    taken_at : datetime
        When it was kept.
    role : str
        ``before``, ``after`` or ``other``.
    table : SpeedTable
        Measured anew, so that all tables speak by one method.
    typed : mapping of str to str
        What stood in the form; empty for a file.
    pks : tuple of int
        Its measurements.
    """

    taken_at: datetime
    role: str
    table: SpeedTable
    typed: Mapping[str, str]
    pks: tuple[int, ...]

    @property
    def role_name(self) -> str:
        """The role in words."""
        return str(Recording.Role(self.role).label)


def speed_tables(piece: Piece, most: int = MOST) -> list[KeptTable]:
    """Give the tables on record, newest first, at most so many."""
    rows = Measurement.objects.filter(piece=piece, kind=KIND, recording=None)
    groups: dict[datetime, list[Measurement]] = {}
    for row in rows.order_by("-taken_at", "pk"):
        groups.setdefault(row.taken_at, []).append(row)
    found = (_kept(members) for members in list(groups.values())[:most])
    return [one for one in found if one is not None]


def before_and_after_tables(piece: Piece) -> tuple[KeptTable | None, KeptTable | None]:
    """Give the latest table before the work and the latest after it."""
    tables = speed_tables(piece)
    before = next((t for t in tables if t.role == Recording.Role.BEFORE), None)
    after = next((t for t in tables if t.role == Recording.Role.AFTER), None)
    return before, after


def _kept(members: list[Measurement]) -> KeptTable | None:
    whole: Mapping[str, Any] = next((m.result for m in members if m.result), {}) or {}
    try:
        table = measure(
            rows_from_json(whole),
            scale=_scale(whole.get("scale")),
            full_size_km_h=whole.get("full_size_km_h"),
            nominal=whole.get("nominal"),
        )
    except InputError:  # kept by another version
        return None
    role = str(whole.get("role", ""))
    role = role if role in Recording.Role.values else Recording.Role.OTHER.value
    return KeptTable(
        members[0].taken_at, role, table, dict(whole.get("typed", {})), tuple(m.pk for m in members)
    )


def _scale(name: Any) -> Scale | None:
    try:
        return scale(str(name)) if name else None
    except NotationError:
        return None
