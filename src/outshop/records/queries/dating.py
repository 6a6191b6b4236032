"""A piece's evidence and its edition's features as the dating room reads them."""

from collections.abc import Iterable

from django.utils import timezone

from outshop.dating.editions import FeatureRow, Observation
from outshop.dating.evidence import Case, make_case
from outshop.dating.life import LifeEvent as DatedEvent
from outshop.dating.life import spans_of
from outshop.railway.edtf_years import read_years
from outshop.records.models import Edition, Evidence, Piece

FIRST_YEAR = 1830  # the first public railways; NEM 800 starts there as well
EVENT_KINDS = {"owner": "owner", "renumbered": "number", "livery": "livery", "rebuilt": "form"}


def evidence_of(piece: Piece) -> list[Evidence]:
    """Give a piece's evidence in the order in which it is numbered."""
    return list(piece.evidence.select_related("photo__media"))


def years_considered() -> range:
    """Give the years from the first railways to this one."""
    return range(FIRST_YEAR, timezone.localdate().year + 1)


def case_of(evidence: Iterable[Evidence], countries: Iterable[str] = ()) -> Case:
    """Make a dating case of kept evidence.

    Raises
    ------
    TableError
        There is none, or an entry cannot be used.
    """
    entries = [
        {
            "what": item.what,
            "window": item.window,
            "trust": item.trust,
            "about": item.about,
            "part": item.part,
            "source": item.source,
        }
        for item in evidence
    ]
    years = years_considered()
    return make_case(list(entries), years[0], years[-1], countries)


def feature_rows(edition: Edition) -> tuple[FeatureRow, ...]:
    """Give the feature table of an edition."""
    return tuple(
        FeatureRow(
            f.version_name or str(edition),
            f.part,
            f.feature,
            f.variant,
            read_years(f.window),
            f.trust,
            f.source,
            f.window,
        )
        for f in edition.features.all()
    )


def observations_of(evidence: Iterable[Evidence]) -> list[Observation]:
    """Give what was read off the edition's feature table."""
    return [
        Observation(e.feature, e.variant, e.trust)
        for e in evidence
        if e.feature and e.about == Evidence.About.EDITION
    ]


def life_of(piece: Piece) -> list[DatedEvent]:
    """Give the dated events of a piece's prototype."""
    if piece.prototype is None:
        return []
    return [
        DatedEvent(EVENT_KINDS.get(e.kind, e.kind), read_years(e.date), e.text, e.source)
        for e in piece.prototype.events.all()
    ]


def window_of(piece: Piece, kind: str, value: str) -> str:
    """Give the years in which the prototype had this owner, number, livery or form, in EDTF."""
    spans = spans_of(life_of(piece), kind, value) if value else []
    if not spans:
        return ""
    if len(spans) > 1:  # a set of spans; its outermost years may be open
        return "[" + ",".join(f"{first or ''}..{last or ''}" for first, last in spans) + "]"
    first, last = spans[0]
    return f"{_year(first)}/{_year(last)}"


def sources_of(piece: Piece, kind: str, value: str) -> list[str]:
    """Give where these years come from."""
    events = (e for e in life_of(piece) if e.kind == kind and e.value == value)
    return list(dict.fromkeys(e.source for e in events if e.source))


def _year(year: int | None) -> str:
    return ".." if year is None else f"{year:04d}"
