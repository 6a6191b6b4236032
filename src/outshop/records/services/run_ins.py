"""The run-in clock: start, pause, turn, read, finish."""

from collections.abc import Sequence
from dataclasses import asdict
from datetime import datetime, timedelta
from typing import Any

from django.utils import timezone

from outshop.errors import ConflictError, InputError
from outshop.records.models import (
    Direction,
    JobCard,
    Piece,
    RunIn,
    RunInSample,
    RunInSegment,
    RunningLog,
)
from outshop.records.run_in_clock import clock_of
from outshop.workshop.run_in import DEFAULT_MINUTES, Limits, stop_reason
from outshop.workshop.run_in_log import read_run_in_log

from .saving import add, change, once, use_case

State = RunIn.State
# Ten minutes each way at low to moderate speed: common practice, no source.
DEFAULT_LEGS: tuple[dict[str, Any], ...] = (
    {"direction": Direction.FORWARD.value, "minutes": DEFAULT_MINUTES},
    {"direction": Direction.REVERSE.value, "minutes": DEFAULT_MINUTES},
)


@use_case
def plan_run_in(
    *,
    piece: Piece,
    legs: Sequence[dict[str, Any]] = DEFAULT_LEGS,
    job: JobCard | None = None,
    current_limit_a: float | None = None,
    temperature_limit_c: float | None = None,
    token: str = "",
) -> RunIn:
    """Plan a run-in of so many minutes each way."""
    run_in = RunIn(
        piece=piece,
        job=job,
        legs=[dict(leg) for leg in legs],
        current_limit_a=current_limit_a,
        temperature_limit_c=temperature_limit_c,
    )
    return once(token=token, model=RunIn, make=lambda: add(run_in))


@use_case
def start_run_in(*, run_in: RunIn, now: datetime | None = None) -> RunIn:
    """Let the clock go; starting a going clock changes nothing."""
    run_in.refresh_from_db()
    _refuse_ended(run_in)
    if run_in.state == State.RUNNING:
        return run_in
    RunInSegment.objects.create(run_in=run_in, leg=run_in.leg, started_at=now or timezone.now())
    return change(run_in, version=None, fields={"state": State.RUNNING})


@use_case
def pause_run_in(*, run_in: RunIn, now: datetime | None = None) -> RunIn:
    """Hold the clock; pausing a held clock changes nothing."""
    run_in.refresh_from_db()
    if run_in.state != State.RUNNING:
        return run_in
    _close_segment(run_in, now or timezone.now())
    return change(run_in, version=None, fields={"state": State.PAUSED})


@use_case
def next_leg(*, run_in: RunIn, leg: int, now: datetime | None = None) -> RunIn:
    """Turn: leave leg number ``leg`` for the next one, or finish after the last.

    Naming the leg that is left makes a second tap harmless.
    """
    run_in.refresh_from_db()
    _refuse_ended(run_in)
    if run_in.leg != leg:
        return run_in
    now = now or timezone.now()
    if leg + 1 >= len(run_in.legs):
        return finish_run_in(run_in=run_in, now=now)
    running = run_in.state == State.RUNNING
    _close_segment(run_in, now)
    if running:
        RunInSegment.objects.create(run_in=run_in, leg=leg + 1, started_at=now)
    return change(run_in, version=None, fields={"leg": leg + 1})


@use_case
def add_sample(
    *,
    run_in: RunIn,
    current_a: float | None = None,
    temperature_c: float | None = None,
    speed_km_h: float | None = None,
    level_db: float | None = None,
    note: str = "",
    now: datetime | None = None,
    token: str = "",
) -> RunInSample:
    """Note a reading; one beyond a limit stops the clock."""
    readings = (current_a, temperature_c, speed_km_h, level_db)
    if all(reading is None for reading in readings) and not note:
        message = "type a current, a temperature, a speed, a level or a note"
        raise InputError(message)
    now = now or timezone.now()
    clock = clock_of(run_in, now)
    sample = RunInSample(
        run_in=run_in,
        minute=round(clock.ran_s / 60, 3),
        direction=clock.direction,
        current_a=current_a,
        temperature_c=temperature_c,
        speed_km_h=speed_km_h,
        level_db=level_db,
        note=note,
    )
    kept = once(token=token, model=RunInSample, make=lambda: add(sample))
    if reason := _beyond_limit(run_in, kept):
        _end(run_in, State.STOPPED, now, reason)
    return kept


@use_case
def add_logged_samples(
    *, run_in: RunIn, text: str, now: datetime | None = None
) -> list[RunInSample]:
    """Take in a log of readings, all of it or none; lines that are kept already are left out.

    Raises
    ------
    TableError
        The log cannot be used; the sentence names the line.
    """
    readings = read_run_in_log(text)
    columns = ("minute", "direction", "current_a", "temperature_c", "speed_km_h", "level_db")
    kept = set(run_in.samples.values_list(*columns))
    fresh = [
        RunInSample(run_in=run_in, **fields)
        for reading in readings
        if tuple((fields := asdict(reading))[name] for name in columns) not in kept
    ]
    RunInSample.objects.bulk_create(fresh)
    reason = next(filter(None, (_beyond_limit(run_in, sample) for sample in fresh)), "")
    if reason and run_in.state not in (State.FINISHED, State.STOPPED):
        _end(run_in, State.STOPPED, now or timezone.now(), reason)
    return fresh


@use_case
def finish_run_in(*, run_in: RunIn, now: datetime | None = None) -> RunIn:
    """End the run-in and log its minutes; ending it twice logs them once."""
    run_in.refresh_from_db()
    if run_in.state in (State.FINISHED, State.STOPPED):
        return run_in
    return _end(run_in, State.FINISHED, now or timezone.now(), "")


def _end(run_in: RunIn, state: RunIn.State, now: datetime, reason: str) -> RunIn:
    if run_in.state == State.STOPPED:
        return run_in
    _close_segment(run_in, now)
    changed = change(
        run_in,
        version=None,
        fields={"state": state, "stop_reason": reason, "finished_at": run_in.finished_at or now},
    )
    minutes = clock_of(run_in, now).ran_s / 60
    if minutes >= 0.01 and not RunningLog.objects.filter(run_in=run_in).exists():
        add(RunningLog(piece=run_in.piece, run_in=run_in, minutes=round(minutes, 2), ran_at=now))
    return changed


def _close_segment(run_in: RunIn, now: datetime) -> None:
    """End the going segment, at the latest where its leg was full."""
    segment = run_in.segments.filter(ended_at=None).first()
    if segment is None:
        return
    clock = clock_of(run_in, segment.started_at)  # before this segment
    full = segment.started_at + timedelta(seconds=clock.leg_left_s)
    segment.ended_at = max(segment.started_at, min(now, full))
    segment.save(update_fields=["ended_at"])


def _beyond_limit(run_in: RunIn, sample: RunInSample) -> str:
    limits = Limits(run_in.temperature_limit_c, run_in.current_limit_a)
    return stop_reason(limits, current_a=sample.current_a, temperature_c=sample.temperature_c)


def _refuse_ended(run_in: RunIn) -> None:
    if run_in.state in (State.FINISHED, State.STOPPED):
        message = f"this run-in has {run_in.get_state_display()}: plan another to go on"
        raise ConflictError(message)
