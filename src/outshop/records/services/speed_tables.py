"""Speed tables: each figure a measurement, the runs with the first."""

from collections.abc import Mapping

from outshop.bench.motion.speed_table import SpeedTable
from outshop.estimate import Estimate, Reading
from outshop.records.models import Measurement, Piece, Recording
from outshop.records.queries.speed_tables import KIND

from .recordings import add_together, remove_together
from .saving import use_case


@use_case
def keep_speed_table(
    *,
    piece: Piece,
    table: SpeedTable,
    role: str = Recording.Role.OTHER,
    full_size_km_h: float | None = None,
    nominal: float | None = None,
    typed: Mapping[str, str] | None = None,
    token: str = "",
) -> list[Measurement]:
    """Keep every figure that could be measured; the first carries the runs."""
    whole = {
        **table.as_json(),
        "scale": table.scale.name if table.scale else "",
        "full_size_km_h": full_size_km_h,
        "nominal": nominal,
        "role": role,
        "typed": dict(typed or {}),
    }
    told: dict[str, Reading] = {
        key: reading for key, reading in table.readings().items() if isinstance(reading, Estimate)
    }
    figures = told or table.readings()  # a model that never ran is a finding, too
    return add_together(piece=piece, kind=KIND, readings=figures, result=whole, token=token)


@use_case
def remove_speed_table(*, piece: Piece, pks: tuple[int, ...]) -> None:
    """Take a table back that was kept by a slip."""
    remove_together(piece=piece, kind=KIND, pks=pks)
