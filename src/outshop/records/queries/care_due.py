"""What falls due over the whole collection, and who needs a turn next."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import F, Max, OuterRef, Q, Subquery, Sum
from django.utils import timezone

from outshop.records.models import CareDone, CareInterval, Piece, RunningLog
from outshop.workshop import care

from .care import care_of

AT_HOME = (
    Piece.State.ARRIVED,
    Piece.State.ON_THE_BENCH,
    Piece.State.RUNNING_IN,
    Piece.State.IN_TRAFFIC,
    Piece.State.STORED,
)
LISTED = 150  # lines of the due list, most urgent first; more cannot be worked off anyway
MOST = 400  # lines of the calendar

Pairs = dict[tuple[int, str], float]  # piece number and rule: urgency, days overdue
FIRST = float("inf")  # hours cannot be told in days, so they come before all


@dataclass(frozen=True, slots=True)
class PieceDue:
    """A piece and what falls due for it."""

    piece: Piece
    due: care.Due


@dataclass(frozen=True, slots=True)
class Turn:
    """A piece and when it last ran."""

    piece: Piece
    last_ran: datetime | None


def due_list(today: date | None = None) -> list[PieceDue]:
    """Give what is due or soon due over the whole collection, most urgent first.

    Only care that is under way counts: it was done once, or hours were run. What nobody ever
    noted stands on the piece's own page, or a first import would bury the list.
    """
    present = today or timezone.localdate()
    wanted = _by_age() | _by_rest() | _by_own_intervals() | _by_hours()
    urgent = sorted(wanted, key=lambda pair: (-wanted[pair], pair))[:LISTED]
    found = [f for f in _dues(urgent, present) if f.due.state in ("due", "soon")]
    order = {id(due): place for place, due in enumerate(care.in_order(f.due for f in found))}
    return sorted(found, key=lambda f: order[id(f.due)])


def calendar_dues(today: date | None = None) -> list[PieceDue]:
    """Give what has a day to fall due, over all care under way, for the calendar."""
    present = today or timezone.localdate()
    noted = CareDone.objects.order_by().values_list("piece", "rule").distinct()
    under_way = {*noted, *_by_rest(), *_by_own_intervals(), *_by_hours()}
    return [f for f in _dues(sorted(under_way)[:MOST], present) if f.due.day is not None]


def next_turns(limit: int = 10) -> list[Turn]:
    """Give the pieces in traffic that have stood the longest, those that never ran first."""
    pieces = Piece.objects.filter(state=Piece.State.IN_TRAFFIC)
    pieces = pieces.select_related("edition", "cover__media")
    never = pieces.filter(running_log__isnull=True).order_by("name", "pk")[:limit]
    turns = [Turn(piece, None) for piece in never]
    if len(turns) < limit:
        ran = pieces.filter(running_log__isnull=False)
        ran = ran.annotate(last_ran=Max("running_log__ran_at"))
        ran = ran.order_by("last_ran", "name", "pk")[: limit - len(turns)]
        turns += [Turn(piece, piece.last_ran) for piece in ran]
    return turns


def _dues(pairs: Collection[tuple[int, str]], today: date) -> list[PieceDue]:
    pieces = Piece.objects.filter(pk__in={piece for piece, _ in pairs}, state__in=AT_HOME)
    by_key = {p.pk: p for p in pieces.select_related("edition")}
    dues = care_of(list(by_key.values()), today, set(pairs))
    return [PieceDue(by_key[pk], due) for pk, found in dues.items() for due in found]


def _cut(months: float) -> datetime:
    """Give the moment before which something done every so many months is due, or soon."""
    days = months * care.DAYS_A_MONTH - care.SOON_DAYS - 3  # a month is up to 3 days shorter
    return timezone.now() - timedelta(days=max(days, 0))


def _by_age() -> Pairs:
    """Give care that was done so long ago that it is due, or soon."""
    cuts = {r.id: _cut(r.every_months) for r in care.care_rules() if r.every_months is not None}
    latest = CareDone.objects.order_by().values_list("piece", "rule")
    rows = latest.annotate(last=Max("done_at")).filter(last__lt=max(cuts.values()))
    return {
        (piece, rule): (cuts[rule] - last).days
        for piece, rule, last in rows
        if rule in cuts and last < cuts[rule]
    }


def _by_rest() -> Pairs:
    """Give pieces that ran once and have stood so long that they should run again."""
    rules = [r for r in care.care_rules() if r.counts_running and r.every_months is not None]
    found: Pairs = {}
    for rule in rules:
        cut = _cut(rule.every_months or 0)
        stood = RunningLog.objects.order_by().values_list("piece").annotate(last=Max("ran_at"))
        stood = stood.filter(last__lt=cut).order_by("last")[:LISTED]
        found |= {(piece, rule.id): (cut - last).days for piece, last in stood}
    return found


def _by_hours() -> Pairs:
    """Give pieces that ran the hours of a rule since it was last done, or nearly so."""
    found: Pairs = {}
    log = RunningLog.objects.order_by().values("piece")
    ever = dict(log.annotate(sum=Sum("minutes")).values_list("piece", "sum"))
    for rule in care.care_rules():
        if rule.every_hours is None:
            continue
        least = rule.every_hours * care.SOON_SHARE * 60
        keys = sorted((pk for pk in ever if ever[pk] >= least), key=lambda pk: -ever[pk])[:MOST]
        done = CareDone.objects.filter(piece=OuterRef("piece"), rule=rule.id).order_by("-done_at")
        counted = log.filter(piece__in=keys).annotate(last=Subquery(done.values("done_at")[:1]))
        counted = counted.filter(Q(last__isnull=True) | Q(ran_at__gt=F("last")))
        full = counted.values("piece").annotate(sum=Sum("minutes")).filter(sum__gte=least)
        found |= {(pk, rule.id): FIRST for pk in full.values_list("piece", flat=True)}
    return found


def _by_own_intervals() -> Pairs:
    own = CareInterval.objects.filter(switched_off=False).order_by()
    return dict.fromkeys(own.values_list("piece", "rule")[:MOST], 0.0)
