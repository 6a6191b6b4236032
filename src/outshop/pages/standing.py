"""Where a piece stands against its own past and its sisters, on its page."""

from dataclasses import dataclass

from django.utils.translation import gettext as _

from outshop.records.models import Piece
from outshop.records.queries.standing import Standing, standings
from outshop.reports.figures import written
from outshop.workshop.acceptance import Band


@dataclass(frozen=True, slots=True)
class Row:
    """One quantity with its bands in words."""

    standing: Standing
    own: str
    sisters: str
    words: str
    mark: str


def of_piece(piece: Piece) -> list[Row]:
    """Give the rows; empty before there are readings enough for a band."""
    return [
        Row(
            standing,
            _band(standing.own),
            _band(standing.sisters),
            _verdict(standing),
            _mark(standing),
        )
        for standing in standings(piece)
    ]


def _band(known: Band | None) -> str:
    if known is None:
        return "–"
    return _("%(low).3g to %(high).3g %(unit)s (%(n)d readings)") % {
        "low": known.low,
        "high": known.high,
        "unit": known.unit,
        "n": known.readings,
    }


def _verdict(standing: Standing) -> str:
    words = []
    if standing.own_place in ("better", "worse"):
        words.append({
            "better": _("better than it ever was"),
            "worse": _("worse than its own past"),
        }[standing.own_place])  # fmt: skip
    if standing.sister_place in ("better", "worse"):
        words.append({
            "better": _("better than its sisters"),
            "worse": _("worse than its sisters"),
        }[standing.sister_place])  # fmt: skip
    if standing.drift and standing.drift.alarm:
        per_year = written(standing.drift.per_year, signed=True).line
        words.append(_("drifting: %(rate)s") % {"rate": per_year})
    return ", ".join(words) or _("as usual")


def _mark(standing: Standing) -> str:
    worse = "worse" in (standing.own_place, standing.sister_place)
    if worse or (standing.drift and standing.drift.alarm):
        return "worse"
    return "better" if "better" in (standing.own_place, standing.sister_place) else ""
