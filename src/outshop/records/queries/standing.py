"""Where a piece stands against its own past, its best, and its sisters of the same drive."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from django.db.models import Count, Max, Q

from outshop.estimate import Estimate, NotMeasurable
from outshop.records.models import Measurement, Piece
from outshop.workshop.acceptance import (
    FEWEST_FOR_DRIFT,
    Band,
    Better,
    Drift,
    Place,
    band,
    best_ever,
    drift,
    place,
)

# Which way is better; a quantity without a better way is not judged.
BETTER: dict[str, Better] = {
    "level": "lower",
    "wheel_turn_modulation": "lower",
    "squeal": "lower",
    "crackle": "lower",
    "speed_ripple": "lower",
    "coasting_mm": "higher",
    "running_current": "lower",
    "starting_peak": "lower",
    "friction_torque": "lower",
    "start_forward": "lower",
    "start_reverse": "lower",
    "creep_forward": "lower",
    "creep_reverse": "lower",
}
MOST = 400  # measurements of one piece, or of its sisters, that are looked at
LOOKED_AT = 60  # quantities of pieces, the latest measured, that are searched for a drift


@dataclass(frozen=True, slots=True)
class Standing:
    """One quantity of a piece, and what it is held against."""

    key: str
    latest: Estimate
    own: Band | None
    own_place: Place
    best: Estimate
    sisters: Band | None
    sister_place: Place
    drift: Drift | None

    @property
    def says_something(self) -> bool:
        """Whether there is anything to hold it against."""
        return self.own is not None or self.sisters is not None


def standings(piece: Piece) -> list[Standing]:
    """Give every judged quantity that the piece was measured for, with its bands."""
    own: dict[str, list[Measurement]] = defaultdict(list)
    rows = piece.measurements.filter(key__in=BETTER, value__isnull=False).order_by(
        "-taken_at", "-pk"
    )
    for m in rows[:MOST]:
        own[m.key].append(m)
    sisters = _sisters(piece, own)
    found = []
    for key, measured in own.items():
        readings = [r for m in measured if isinstance(r := m.reading, Estimate)]
        latest = readings[0]
        same = [r for r in readings if r.unit == latest.unit]
        best = best_ever(same, BETTER[key])
        if best is None:
            continue
        earlier = band([r.value for r in same[1:]], latest.unit)
        shelf = band(sisters.get((key, latest.unit), []), latest.unit)
        days = [m.taken_at.date() for m in measured if m.unit == latest.unit]
        moves = drift(days, [r.value for r in same], latest.unit, BETTER[key])
        found.append(
            Standing(
                key,
                latest,
                None if isinstance(earlier, NotMeasurable) else earlier,
                place(latest, earlier, BETTER[key]),
                best,
                None if isinstance(shelf, NotMeasurable) else shelf,
                place(latest, shelf, BETTER[key]),
                None if isinstance(moves, NotMeasurable) else moves,
            )
        )
    return [s for s in found if s.says_something]


@dataclass(frozen=True, slots=True)
class Drifting:
    """A quantity of a piece that gets worse over the years beyond chance."""

    piece: Piece
    key: str
    drift: Drift


def drifting(piece: Piece | None = None) -> list[Drifting]:
    """Give the quantities that get worse over the years, of one piece or of all."""
    rows = Measurement.objects.filter(key__in=BETTER, value__isnull=False)
    if piece is not None:
        rows = rows.filter(piece=piece)
    often = (
        rows.order_by()
        .values("piece", "key", "unit")
        .annotate(number=Count("pk"), last=Max("taken_at"))
    )
    often = often.filter(number__gte=FEWEST_FOR_DRIFT).order_by("-last")[:LOOKED_AT]
    wanted = {(row["piece"], row["key"], row["unit"]) for row in often}
    series: dict[tuple[int, str, str], list[tuple[date, float]]] = defaultdict(list)
    readings = rows.filter(piece__in={owner for owner, _, _ in wanted}).order_by("taken_at")
    for owner, key, unit, at, value in readings.values_list(
        "piece", "key", "unit", "taken_at", "value"
    ):
        if value is not None and (owner, key, unit) in wanted:
            series[owner, key, unit].append((at.date(), value))
    alarms: dict[tuple[int, str], Drift] = {}
    for (owner, key, unit), points in series.items():
        days, values = zip(*points[-MOST:], strict=True)
        moved = drift(days, values, unit, BETTER[key])
        if isinstance(moved, Drift) and moved.alarm:
            alarms[owner, key] = moved
    pieces = Piece.objects.in_bulk({owner for owner, _ in alarms})
    return [Drifting(pieces[owner], key, moved) for (owner, key), moved in alarms.items()]


def _sisters(piece: Piece, own: dict[str, list[Measurement]]) -> dict[tuple[str, str], list[float]]:
    """Give the latest value of each other piece of the same edition or drive, by key and unit."""
    if not own:
        return {}
    same = Q(pk__in=[])
    if piece.edition_id:
        same |= Q(edition=piece.edition_id)
    if piece.drive:
        same |= Q(drive=piece.drive)
    others = Piece.objects.filter(same).exclude(pk=piece.pk).values("pk")
    rows = Measurement.objects.filter(piece__in=others, key__in=list(own), value__isnull=False)
    rows = rows.order_by("-taken_at", "-pk")
    seen: set[tuple[int, str]] = set()
    values: dict[tuple[str, str], list[float]] = defaultdict(list)
    for owner, key, unit, value in rows.values_list("piece", "key", "unit", "value")[:MOST]:
        if value is not None and (owner, key) not in seen:
            seen.add((owner, key))
            values[key, unit].append(value)
    return values
