"""Care that was done, intervals of one's own, and minutes run by a tap."""

from datetime import datetime

from django.utils import timezone
from django.utils.text import slugify

from outshop.errors import InputError
from outshop.records.models import CareDone, CareInterval, JobCard, Piece, RunningLog
from outshop.workshop import care
from outshop.workshop.running_log import Ran, check_minutes, is_double_tap

from .saving import add, change, once, remove, use_case

OWN = "own-"  # begins the key of a rule that the person wrote


@use_case
def note_care(
    *,
    piece: Piece,
    rule: str,
    done_at: datetime | None = None,
    job: JobCard | None = None,
    note: str = "",
    token: str = "",
) -> CareDone:
    """Note that something which falls due was done.

    Raises
    ------
    MissingError
        There is no such rule.
    InputError
        The day lies ahead.
    """
    _known(piece, rule)
    now = timezone.now()
    if done_at and done_at > now:
        message = f"{done_at:%Y-%m-%d} lies ahead; note it when it is done"
        raise InputError(message)
    entry = CareDone(piece=piece, rule=rule, done_at=done_at or now, job=job, note=note)
    return once(token=token, model=CareDone, make=lambda: add(entry))


@use_case
def forget_care(*, entry: CareDone) -> None:
    """Take back an entry that was a slip."""
    remove(entry)


@use_case
def set_care_interval(
    *,
    piece: Piece,
    rule: str,
    every_hours: float | None = None,
    every_months: float | None = None,
    switched_off: bool = False,
) -> CareInterval:
    """Give a piece its own interval for a rule, or switch the rule off for it.

    Raises
    ------
    MissingError
        There is no such rule.
    InputError
        Neither hours nor months are given, or one is not above 0.
    """
    _known(piece, rule)
    fields = {
        "every_hours": every_hours,
        "every_months": every_months,
        "switched_off": switched_off,
    }
    kept = CareInterval.objects.filter(piece=piece, rule=rule).first()
    if kept is None:
        return add(CareInterval(piece=piece, rule=rule, **fields))
    return change(kept, version=None, fields=fields)


@use_case
def usual_care_interval(*, piece: Piece, rule: str) -> None:
    """Go back to the usual interval; a rule of one's own goes altogether."""
    kept = CareInterval.objects.filter(piece=piece, rule=rule).first()
    if kept is not None:
        remove(kept)


@use_case
def add_own_care(
    *,
    piece: Piece,
    title: str,
    text: str = "",
    every_hours: float | None = None,
    every_months: float | None = None,
    token: str = "",
) -> CareInterval:
    """Write a rule of one's own for a piece.

    Raises
    ------
    InputError
        It has no title or no interval.
    """
    if not title.strip():
        message = "care needs a title"
        raise InputError(message)
    key = f"{OWN}{slugify(title)[:40] or 'care'}"
    taken = set(piece.care_intervals.values_list("rule", flat=True))
    name = next(n for n in (key, *(f"{key}-{i}" for i in range(2, 1000))) if n not in taken)
    own = CareInterval(
        piece=piece,
        rule=name,
        title=title,
        text=text,
        every_hours=every_hours,
        every_months=every_months,
    )
    return once(token=token, model=CareInterval, make=lambda: add(own))


@use_case
def tap_running(
    *, piece: Piece, minutes: float, now: datetime | None = None, note: str = "", token: str = ""
) -> RunningLog:
    """Note minutes run; the same minutes tapped again at once count once.

    Raises
    ------
    InputError
        The minutes cannot be true.
    """
    present = now or timezone.now()
    fresh = Ran(present, check_minutes(minutes))
    last = piece.running_log.filter(run_in=None).order_by("-created_at").first()
    if last is not None and is_double_tap(Ran(last.ran_at, min(last.minutes, 1440)), fresh):
        return last
    entry = RunningLog(piece=piece, minutes=minutes, ran_at=present, note=note)
    return once(token=token, model=RunningLog, make=lambda: add(entry))


def note_care_of_job(card: JobCard) -> list[CareDone]:
    """Note the care that a finished card has done: every rule whose task was ticked whole."""
    ticked: dict[str, bool] = {}
    for step in card.steps.all():
        name = step.procedure.partition(".")[0]
        ticked[name] = ticked.get(name, True) and step.done_at is not None
    rules = [r for r in care.care_rules() if r.task and ticked.get(r.task)]
    done = set(card.care_done.values_list("rule", flat=True))
    return [
        add(CareDone(piece=card.piece, job=card, rule=rule.id))
        for rule in rules
        if rule.id not in done
    ]


def _known(piece: Piece, rule: str) -> None:
    if not piece.care_intervals.filter(rule=rule).exists():
        care.care_rule(rule)
