"""What falls due, how long pieces ran, and who needs a turn next."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from django.db.models import F, Max, Min, OuterRef, Q, QuerySet, Subquery, Sum
from django.utils import timezone

from outshop.errors import NotationError
from outshop.railway.edtf_years import read_years
from outshop.records.models import CareDone, CareInterval, Finding, Inspection, Piece, RunningLog
from outshop.workshop import care

AT_HOME = (
    Piece.State.ARRIVED,
    Piece.State.ON_THE_BENCH,
    Piece.State.RUNNING_IN,
    Piece.State.IN_TRAFFIC,
    Piece.State.STORED,
)
LISTED = 200  # lines of the due list; more cannot be worked off anyway
YEAR = timedelta(days=365)


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


def piece_care(piece: Piece, today: date | None = None) -> tuple[care.Due, ...]:
    """Give everything that falls due for a piece, most urgent first."""
    return care_of([piece], today)[piece.pk]


def care_of(pieces: Sequence[Piece], today: date | None = None) -> dict[int, tuple[care.Due, ...]]:
    """Give what falls due for each piece; the number of queries does not grow with them."""
    present = today or timezone.localdate()
    history = _history_of(pieces)
    never = _never_fitted(pieces)
    own = _own_intervals(pieces)
    return {
        piece.pk: care.in_order(
            _due(piece, rule, history, present)
            for rule in _rules(piece, own.get(piece.pk, {}), never.get(piece.pk, set()))
        )
        for piece in pieces
    }


def rules_of(piece: Piece) -> list[care.CareRule]:
    """Give the rules that hold for a piece, with its own intervals."""
    own = _own_intervals([piece]).get(piece.pk, {})
    return _rules(piece, own, absent_parts(piece))


def absent_parts(piece: Piece) -> set[str]:
    """Give the parts that this model never had, as the latest inspection says."""
    return _never_fitted([piece]).get(piece.pk, set())


@dataclass(frozen=True, slots=True)
class _History:
    """What is known of many pieces: by piece and rule, or by piece."""

    done: dict[tuple[int, str], datetime]
    minutes_since: dict[tuple[int, str], float]
    last_ran: dict[int, datetime]
    pace: dict[int, float]  # hours a month


def _due(piece: Piece, rule: care.CareRule, history: _History, today: date) -> care.Due:
    last = history.done.get((piece.pk, rule.id))
    ever_done = last is not None
    ran = history.last_ran.get(piece.pk)
    if rule.counts_running and ran and (last is None or ran > last):
        last = ran
    began = piece.arrived_on or timezone.localtime(piece.created_at).date()
    since = timezone.localtime(last).date() if last else began
    return care.due(
        rule,
        today=today,
        since=min(since, today),
        hours_since=history.minutes_since.get((piece.pk, rule.id), 0.0) / 60,
        hours_per_month=history.pace.get(piece.pk, 0.0),
        ever_done=ever_done,
    )


def _rules(piece: Piece, own: Mapping[str, CareInterval], without: set[str]) -> list[care.CareRule]:
    made = year_made(piece)
    rules = []
    for rule in care.care_rules():
        if not rule.applies(without=without, state=piece.state, made=made):
            continue
        kept = own.get(rule.id)
        if kept is None:
            rules.append(rule)
        elif not kept.switched_off:
            hours, months = kept.every_hours, kept.every_months
            rules.append(replace(rule, every_hours=hours, every_months=months))
    rules += [_own_rule(kept) for kept in own.values() if kept.title and not kept.switched_off]
    return rules


def _history_of(pieces: Sequence[Piece]) -> _History:
    keys = [piece.pk for piece in pieces]
    rows = CareDone.objects.filter(piece__in=keys).order_by().values_list("piece", "rule")
    done = {(piece, rule): last for piece, rule, last in rows.annotate(last=Max("done_at"))}
    now = timezone.now()
    log = RunningLog.objects.filter(piece__in=keys).order_by().values("piece")
    sums = log.annotate(
        last=Max("ran_at"),
        first=Min("ran_at"),
        all=Sum("minutes"),
        recent=Sum("minutes", filter=Q(ran_at__gt=now - YEAR)),
    )
    minutes: dict[tuple[int, str], float] = {}
    last_ran: dict[int, datetime] = {}
    pace: dict[int, float] = {}
    names = {rule.id for rule in care.care_rules() if rule.every_hours} | {r for _, r in done}
    for row in sums:
        piece = row["piece"]
        last_ran[piece] = row["last"]
        months = min(max((now - row["first"]).days, 30.44), 365.25) / 30.44
        pace[piece] = float(row["recent"] or 0) / 60 / months
        minutes |= {(piece, name): row["all"] for name in names}
    for name in sorted({rule for _, rule in done}):
        since = CareDone.objects.filter(piece=OuterRef("piece"), rule=name).order_by("-done_at")
        after = log.filter(ran_at__gt=Subquery(since.values("done_at")[:1]))
        touched = {piece for piece, rule in done if rule == name}
        minutes |= {(piece, name): 0.0 for piece in touched}
        rows_after = after.annotate(sum=Sum("minutes")).values_list("piece", "sum")
        minutes |= {(piece, name): float(total) for piece, total in rows_after}
    return _History(done, minutes, last_ran, pace)


def _never_fitted(pieces: Sequence[Piece]) -> dict[int, set[str]]:
    latest = Inspection.objects.filter(piece=OuterRef("inspection__piece"))
    findings = Finding.objects.filter(
        inspection__piece__in=[piece.pk for piece in pieces],
        state="not-fitted",
        target_kind=Finding.TargetKind.PART,
        inspection=Subquery(latest.values("pk")[:1]),
    )
    never: dict[int, set[str]] = {}
    for piece, target in findings.values_list("inspection__piece", "target"):
        never.setdefault(piece, set()).add(target)
    return never


def _own_intervals(pieces: Sequence[Piece]) -> dict[int, dict[str, CareInterval]]:
    own: dict[int, dict[str, CareInterval]] = {}
    for kept in CareInterval.objects.filter(piece__in=[piece.pk for piece in pieces]):
        own.setdefault(kept.piece_id, {})[kept.rule] = kept
    return own


def year_made(piece: Piece) -> int | None:
    """Give the first year in which its edition was made, when that is known."""
    try:
        years = read_years(piece.edition.made) if piece.edition and piece.edition.made else None
    except NotationError:
        return None
    return years.first if years else None


def due_list(today: date | None = None) -> list[PieceDue]:
    """Give what is due or soon due over the whole collection, most urgent first.

    Only care that is under way counts: it was done once, or hours were run. What nobody ever
    noted stands on the piece's own page, or a first import would bury the list.
    """
    present = today or timezone.localdate()
    wanted = _due_by_age() | _due_by_hours() | _with_own_intervals()
    found = [f for f in _dues(wanted, present) if f.due.state in ("due", "soon")]
    order = {id(due): place for place, due in enumerate(care.in_order(f.due for f in found))}
    return sorted(found, key=lambda f: order[id(f.due)])[:LISTED]


def calendar_dues(today: date | None = None) -> list[PieceDue]:
    """Give what has a day to fall due, over all pieces with care under way, for the calendar."""
    present = today or timezone.localdate()
    under_way = set(CareDone.objects.order_by().values_list("piece", flat=True).distinct())
    under_way |= _with_own_intervals() | _due_by_hours()
    return [f for f in _dues(under_way, present) if f.due.day is not None]


def _dues(keys: set[int], today: date) -> list[PieceDue]:
    pieces = Piece.objects.filter(pk__in=sorted(keys)[: LISTED * 2], state__in=AT_HOME)
    by_key = {p.pk: p for p in pieces.select_related("edition", "cover__media")}
    dues = care_of(list(by_key.values()), today)
    return [PieceDue(by_key[pk], due) for pk, found in dues.items() for due in found]


def next_turns(limit: int = 10) -> list[Turn]:
    """Give the pieces in traffic that have stood the longest, those that never ran first."""
    pieces = (
        Piece.objects.filter(state=Piece.State.IN_TRAFFIC)
        .select_related("edition", "cover__media")
        .annotate(last_ran=Max("running_log__ran_at"))
        .order_by(F("last_ran").asc(nulls_first=True), "name", "pk")[:limit]
    )
    return [Turn(piece, piece.last_ran) for piece in pieces]


def latest_runs(limit: int = 20) -> QuerySet[RunningLog]:
    """Give the latest entries of the running log."""
    return RunningLog.objects.select_related("piece").order_by("-ran_at", "-pk")[:limit]


def _due_by_age() -> set[int]:
    """Give pieces with care that was done so long ago that it is due, or soon."""
    old = Q(pk__in=[])
    for rule in care.care_rules():
        if rule.every_months is not None:
            days = rule.every_months * care.DAYS_A_MONTH - care.SOON_DAYS - 3
            cut = timezone.now() - timedelta(days=max(days, 0))
            old |= Q(rule=rule.id, last__lt=cut)
    latest = CareDone.objects.order_by().values("piece", "rule").annotate(last=Max("done_at"))
    return set(latest.filter(old).values_list("piece", flat=True)[: LISTED * 2])


def _due_by_hours() -> set[int]:
    """Give pieces that ran the hours of a rule since it was last done, or nearly so."""
    found: set[int] = set()
    log = RunningLog.objects.order_by().values("piece")
    for rule in care.care_rules():
        if rule.every_hours is None:
            continue
        done = CareDone.objects.filter(piece=OuterRef("piece"), rule=rule.id).order_by("-done_at")
        last = Subquery(done.values("done_at")[:1])
        counted = log.annotate(last_done=last).filter(
            Q(last_done__isnull=True) | Q(ran_at__gt=F("last_done"))
        )
        if rule.once:
            counted = counted.filter(last_done__isnull=True)
        least = rule.every_hours * care.SOON_SHARE * 60
        full = counted.values("piece").annotate(sum=Sum("minutes")).filter(sum__gte=least)
        found |= set(full.values_list("piece", flat=True)[:LISTED])
    return found


def _with_own_intervals() -> set[int]:
    return set(CareInterval.objects.order_by().values_list("piece", flat=True)[:LISTED])


def _own_rule(kept: CareInterval) -> care.CareRule:
    return care.CareRule(
        kept.rule,
        kept.title,
        kept.text,
        every_hours=kept.every_hours,
        every_months=kept.every_months,
        source="own rule",
    )


def care_history(piece: Piece, limit: int = 20) -> Iterable[CareDone]:
    """Give what was done last."""
    return piece.care_done.all()[:limit]
