"""What lots, sales and values come to."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.utils import timezone

from outshop.market.bid import Ceiling, bid_ceiling
from outshop.market.claims import Judged, Seen, find_claims, judge
from outshop.market.comparables import Comparable
from outshop.market.landed import Landed, landed
from outshop.market.money import currency
from outshop.market.questions import Question, questions_worth_asking
from outshop.market.schedule import Item
from outshop.market.typed import read_outlook, read_terms
from outshop.market.value import Subject, Value, value_piece
from outshop.records.models import Lot, Measurement, Piece, Sale, Valuation
from outshop.records.queries.pieces import latest_inspection
from outshop.records.services import as_workshop
from outshop.workshop.parts import part_list


@dataclass(frozen=True, slots=True)
class LotOutlook:
    """How far to bid for a lot, what it lands at, and what to ask first."""

    ceiling: Ceiling | None
    invoice: Landed | None
    questions: tuple[Question, ...]


def outlook_of(lot: Lot, hammer: Decimal | None = None) -> LotOutlook:
    """Compute what a lot's typed terms and outlook come to.

    Raises
    ------
    InputError
        Something typed cannot be used.
    """
    terms = read_terms(_texts(lot.terms), currency(lot.currency))
    typed = read_outlook(_texts(lot.outlook))
    if not typed.grades:
        return LotOutlook(None, landed(hammer, terms) if hammer is not None else None, ())
    ceiling = bid_ceiling(
        typed.grades,
        typed.repairs,
        terms,
        accepted_regret=typed.accepted_regret,
        hour_worth=typed.hour_worth,
        bidders=typed.bidders,
        judgement_spread=typed.judgement_spread,
    )
    questions = questions_worth_asking(
        typed.grades,
        typed.repairs,
        terms,
        accepted_regret=typed.accepted_regret,
        hour_worth=typed.hour_worth,
    )
    invoice = landed(ceiling.bid if hammer is None else hammer, terms)
    return LotOutlook(ceiling, invoice, tuple(questions))


def claims_of(lot: Lot) -> list[Judged]:
    """Hold each claim of a lot's listing against what was found on the piece."""
    seen: list[Seen] = []
    measured: dict[str, str] = {}
    if lot.piece is not None:
        inspection = latest_inspection(lot.piece)
        findings = as_workshop(inspection.findings.all()) if inspection else ()
        seen = [Seen(f.part, f.state, f.gravity, f.sentence) for f in findings]
        rows = Measurement.objects.filter(piece=lot.piece, value__isnull=False)
        measured = {m.key: f"{m.value:.3g} {m.unit}" for m in rows.order_by("taken_at")}
    names = [part.id for part in part_list()]
    return [judge(text, kind, seen, names, measured) for text, kind in find_claims(lot.listing)]


def sales_like(piece: Piece) -> list[Sale]:
    """Give the sales of the piece's edition."""
    if piece.edition is None:
        return []
    return list(Sale.objects.filter(edition=piece.edition))


def as_comparables(sales: Iterable[Sale]) -> list[Comparable]:
    """Give sales as the market room reads them."""
    return [
        Comparable(
            s.sold_on,
            s.price,
            s.currency,
            s.what,
            s.condition,
            s.box,
            s.papers,
            s.working,
            s.source,
        )
        for s in sales
    ]


def market_value(sales: Iterable[Sale], subject: Subject) -> Value:
    """Value a piece from sales, as of today."""
    return value_piece(as_comparables(sales), subject, timezone.localdate())


def schedule_items(code: str) -> list[Item]:
    """Give every owned piece with its latest values in one currency."""
    values: dict[int, dict[str, Decimal]] = {}
    for row in Valuation.objects.filter(currency=code).order_by("valued_on", "pk"):
        values.setdefault(row.piece_id, {})[row.basis] = row.amount
    owned = Piece.objects.exclude(state__in=(Piece.State.WANTED, Piece.State.SOLD))
    return [
        Item(
            str(piece.uid),
            str(piece),
            piece.place,
            values.get(piece.pk, {}).get("market"),
            values.get(piece.pk, {}).get("replacement"),
            values.get(piece.pk, {}).get("agreed"),
        )
        for piece in owned
    ]


def _texts(kept: Mapping[str, Any]) -> dict[str, str]:
    return {key: str(value) for key, value in kept.items()}
