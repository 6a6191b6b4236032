"""What the meter page keeps, as other rooms take it."""

from collections.abc import Iterable
from typing import Any

from outshop.bench.readings import quantity
from outshop.errors import InputError
from outshop.records.models import Measurement, Piece


def engine_for_a_train(piece: Piece) -> dict[str, Any]:
    """Give the measured pull with its interval, the engine's mass and length where kept.

    Returns
    -------
    dict
        Keys ``pull_g``, ``low_g``, ``high_g``, ``engine_mass_g``, ``engine_length_mm``; what
        was not measured is left out.
    """
    found: dict[str, Any] = {}
    pull = _latest(piece, "pull", "pull")
    if pull and pull.value is not None and pull.low is not None and pull.high is not None:
        found |= {"pull_g": round(pull.value, 1), "low_g": round(max(0.1, pull.low), 1)}
        found["high_g"] = round(pull.high, 1)
    for topic, typed, name in (
        ("pull", "mass_g", "engine_mass_g"),
        ("size", "length_mm", "engine_length_mm"),
    ):
        row = _latest(piece, topic)
        text = (row.result or {}).get("typed", {}).get(typed, "") if row else ""
        try:
            if text:
                found[name] = quantity(text, "mm" if name.endswith("mm") else "g")[0]
        except InputError:
            continue  # an older form's text
    return found


def rolling_measured(pieces: Iterable[int]) -> dict[int, Measurement]:
    """Give the last rolling measured of each piece that has one, by the piece's key."""
    rows = Measurement.objects.filter(
        piece__in=list(pieces), kind="rolling", key="rolling", recording=None, value__isnull=False
    )
    return {row.piece_id: row for row in rows.order_by("taken_at", "-pk")}


def running_current_measured(piece: Piece) -> float | None:
    """Give the last running current measured of a piece, in A; None when there is none."""
    row = _latest(piece, "current", "running_current")
    return None if row is None else row.value


def _latest(piece: Piece, topic: str, key: str = "") -> Measurement | None:
    rows = Measurement.objects.filter(piece=piece, kind=topic, recording=None)
    rows = rows.filter(key=key) if key else rows
    return rows.order_by("-taken_at", "pk").first()
