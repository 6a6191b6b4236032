"""What lots, sales and values come to."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django.db.models import Max, Q, QuerySet, Sum
from django.utils import timezone

from outshop.market.bid import Ceiling, bid_ceiling
from outshop.market.claims import Judged, Seen, find_claims, judge
from outshop.market.comparables import Comparable
from outshop.market.landed import Landed, highest_bid, landed
from outshop.market.money import currency
from outshop.market.questions import Question, questions_worth_asking
from outshop.market.schedule import Item
from outshop.market.typed import Home, read_home, read_outlook, read_terms
from outshop.market.value import Subject, Value, value_piece
from outshop.records.models import (
    Formation,
    Lot,
    Measurement,
    Piece,
    RunningLog,
    Sale,
    Valuation,
)
from outshop.records.queries.pieces import latest_inspection
from outshop.records.services import as_workshop
from outshop.workshop.parts import part_list

SHOWN_BASES = ("market", "replacement", "agreed")
RESTS_AFTER = 120  # days; exercise every three to four months is common practice
ENDS_SOON = 10  # days ahead that a return or the end of a sale is told
MOST_SHOWN, MOST_RESTING = 400, 30


@dataclass(frozen=True, slots=True)
class LotOutlook:
    """How far to bid for a lot, what it lands at, and what to ask first."""

    ceiling: Ceiling | None
    invoice: Landed | None
    questions: tuple[Question, ...]
    home_total: str = ""
    within_budget: Decimal | None = None


def outlook_of(
    lot: Lot, hammer: Decimal | None = None, budget: Decimal | None = None
) -> LotOutlook:
    """Compute what a lot's typed terms and outlook come to.

    ``budget``, in the person's own currency, gives the highest bid that lands within it.

    Raises
    ------
    InputError
        Something typed cannot be used.
    """
    terms = read_terms(_texts(lot.terms), currency(lot.currency))
    typed = read_outlook(_texts(lot.outlook))
    home = read_home(_texts(lot.terms))
    bid = None
    if budget is not None:
        bid = highest_bid(home.abroad(budget, terms.unit) if home else budget, terms)
        hammer = bid if hammer is None else hammer
    if not typed.grades:
        invoice = landed(hammer, terms) if hammer is not None else None
        return LotOutlook(None, invoice, (), _at_home(invoice, home), bid)
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
    return LotOutlook(ceiling, invoice, tuple(questions), _at_home(invoice, home), bid)


def _at_home(invoice: Landed | None, home: Home | None) -> str:
    return f"{home.of(invoice.total)} {home.unit.code}" if invoice and home else ""


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


def lots_due(today: date) -> list[Lot]:
    """Give lots whose return period or sale ends soon, the nearest day first."""
    soon = today + timedelta(days=ENDS_SOON)
    returns = Q(state=Lot.State.BOUGHT, return_by__gte=today, return_by__lte=soon)
    sales = Q(state__in=(Lot.State.WATCHED, Lot.State.BID), ends_on__gte=today, ends_on__lte=soon)
    lots = Lot.objects.filter(returns | sales)[:MOST_RESTING]
    return sorted(lots, key=lambda lot: _due_day(lot) or today)


def _due_day(lot: Lot) -> date | None:
    return lot.return_by if lot.state == Lot.State.BOUGHT else lot.ends_on


def values_over_time(
    piece: Piece, code: str
) -> tuple[list[tuple[str, list[tuple[date, Decimal]]]], str]:
    """Give market, replacement and agreed values by day in one currency, and which that is."""
    kept = [v for v in piece.valuations.order_by("valued_on", "pk") if v.basis in SHOWN_BASES]
    code = code or (kept[-1].currency if kept else "")
    rows: dict[str, list[tuple[date, Decimal]]] = {}
    for v in kept:
        if v.currency == code:
            rows.setdefault(v.get_basis_display(), []).append((v.valued_on, v.amount))
    return list(rows.items()), code


def schedule_items(code: str, as_of: date | None = None) -> list[Item]:
    """Give every owned piece with its latest values in one currency, today or as of a day."""
    values: dict[int, dict[str, Decimal]] = {}
    rows = Valuation.objects.filter(currency=code).order_by("valued_on", "pk")
    owned = Piece.objects.exclude(state__in=(Piece.State.WANTED, Piece.State.SOLD))
    if as_of is not None:
        rows = rows.filter(valued_on__lte=as_of)
        owned = owned.filter(created_at__date__lte=as_of)
    for row in rows:
        values.setdefault(row.piece_id, {})[row.basis] = row.amount
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


def _running_costs(owned: "QuerySet[Piece]") -> list[tuple[Piece, Decimal, str, float]]:
    """Give what the upkeep of each piece came to, its currency, and its running hours."""
    upkeep = Valuation.objects.filter(basis=Valuation.Basis.UPKEEP, piece__in=owned).order_by()
    sums = upkeep.values_list("piece", "currency").annotate(all=Sum("amount")).order_by("-all")
    rows = list(sums[:MOST_RESTING])
    pieces = owned.in_bulk([pk for pk, _code, _sum in rows])
    minutes = dict(
        RunningLog.objects.filter(piece__in=pieces).order_by().values_list("piece")
        .annotate(all=Sum("minutes"))
    )  # fmt: skip
    return [(pieces[pk], sum_, code, (minutes.get(pk) or 0) / 60) for pk, code, sum_ in rows]


def _texts(kept: Mapping[str, Any]) -> dict[str, str]:
    return {key: str(value) for key, value in kept.items()}


@dataclass(frozen=True, slots=True)
class Collection:
    """The collection at a glance."""

    owned: list[Piece]
    wanted: list[Piece]
    watched: list[Lot]
    spent: list[tuple[str, Decimal]]
    resting: list[Piece]
    costs: list[tuple[Piece, Decimal, str, float]]
    trains: list[Formation]


def collection() -> Collection:
    """Look over what is owned and wanted, what was spent, and what has not run for long."""
    pieces = Piece.objects.select_related("edition", "cover__media")
    owned = pieces.exclude(state__in=(Piece.State.WANTED, Piece.State.SOLD))
    paid = Valuation.objects.filter(basis=Valuation.Basis.PAID).order_by()
    long_ago = timezone.now() - timedelta(days=RESTS_AFTER)
    engines = owned.exclude(kind__in=(Piece.Kind.COACH, Piece.Kind.WAGON, Piece.Kind.OTHER))
    resting = engines.annotate(last=Max("running_log__ran_at")).filter(
        Q(last__lt=long_ago) | Q(last=None)
    )
    return Collection(
        list(owned.order_by("kind", "name")[:MOST_SHOWN]),
        list(pieces.filter(state=Piece.State.WANTED)),
        list(Lot.objects.filter(state__in=(Lot.State.WATCHED, Lot.State.BID))),
        [(r["currency"], r["all"]) for r in paid.values("currency").annotate(all=Sum("amount"))],
        list(resting.order_by("last")[:MOST_RESTING]),
        _running_costs(owned),
        list(Formation.objects.select_related("line").exclude(recipe="")[:MOST_RESTING]),
    )
