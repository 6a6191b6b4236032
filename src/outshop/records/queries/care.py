"""What falls due for a piece, or for several at once."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from django.db.models import Max, Min, OuterRef, Q, Subquery, Sum
from django.utils import timezone

from outshop.errors import NotationError
from outshop.railway.edtf_years import read_years
from outshop.records.models import CareDone, CareInterval, Finding, Inspection, Piece, RunningLog
from outshop.workshop import care

YEAR = timedelta(days=365)
OWN_RULE = "own rule"


def piece_care(piece: Piece, today: date | None = None) -> tuple[care.Due, ...]:
    """Give everything that falls due for a piece, most urgent first."""
    return care_of([piece], today)[piece.pk]


def care_of(
    pieces: Sequence[Piece],
    today: date | None = None,
    only: Collection[tuple[int, str]] | None = None,
) -> dict[int, tuple[care.Due, ...]]:
    """Give what falls due for each piece; the number of queries does not grow with them.

    Parameters
    ----------
    only : collection of (piece number, rule), optional
        Look at these only; rules that the person wrote are always looked at.
    """
    present = today or timezone.localdate()
    never = _never_fitted(pieces)
    own = _own_intervals(pieces)
    by_hours = {rule.id for rule in care.care_rules() if rule.every_hours}
    by_hours |= {kept.rule for rules in own.values() for kept in rules.values() if kept.every_hours}
    if only is not None:
        by_hours &= {rule for _, rule in only}
    history = _history_of(pieces, by_hours)
    return {
        piece.pk: care.in_order(
            _due(piece, rule, history, present)
            for rule in _rules(piece, own.get(piece.pk, {}), never.get(piece.pk, set()))
            if only is None or (piece.pk, rule.id) in only or rule.source == OWN_RULE
        )
        for piece in pieces
    }


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


def _history_of(pieces: Sequence[Piece], by_hours: Collection[str]) -> _History:
    """Fetch the history; hours since it was last done only of these rules."""
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
    for row in sums:
        piece = row["piece"]
        last_ran[piece] = row["last"]
        months = min(max((now - row["first"]).days, 30.44), 365.25) / 30.44
        pace[piece] = float(row["recent"] or 0) / 60 / months
        minutes |= {(piece, name): row["all"] for name in by_hours}
    for name in sorted(set(by_hours) & {rule for _, rule in done}):
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


def _own_rule(kept: CareInterval) -> care.CareRule:
    return care.CareRule(
        kept.rule,
        kept.title,
        kept.text,
        every_hours=kept.every_hours,
        every_months=kept.every_months,
        source=OWN_RULE,
    )


def care_history(piece: Piece, limit: int = 20) -> Iterable[CareDone]:
    """Give what was done last."""
    return piece.care_done.all()[:limit]
