"""The run-in clock: survives anything, counts what was planned, stops at a limit."""

from datetime import UTC, datetime, timedelta

import pytest

from outshop.errors import ConflictError, InputError
from outshop.records import queries, services
from outshop.records.models import Piece, RunIn, RunningLog
from outshop.records.run_in_clock import clock_of

pytestmark = pytest.mark.django_db
START = datetime(2026, 3, 1, 10, 0, tzinfo=UTC)


def at(minutes: float) -> datetime:
    return START + timedelta(minutes=minutes)


def read(run_in: RunIn, minutes: float) -> float:
    """Minutes on the clock, from a fresh copy, as after a reload."""
    return clock_of(RunIn.objects.get(pk=run_in.pk), at(minutes)).ran_s / 60


@pytest.fixture(name="run_in")
def _run_in(piece: Piece) -> RunIn:
    return services.plan_run_in(piece=piece)


def test_ten_minutes_each_way_by_default(run_in: RunIn) -> None:
    """Common practice, no source."""
    assert [(leg["direction"], leg["minutes"]) for leg in run_in.legs] == [
        ("forward", 10),
        ("reverse", 10),
    ]


def test_the_clock_goes_on_through_a_reload_and_stands_while_paused(run_in: RunIn) -> None:
    services.start_run_in(run_in=run_in, now=at(0))
    assert read(run_in, 3) == pytest.approx(3)
    services.pause_run_in(run_in=run_in, now=at(4))
    assert read(run_in, 60) == pytest.approx(4)
    services.start_run_in(run_in=run_in, now=at(60))
    assert read(run_in, 61) == pytest.approx(5)


def test_tapping_twice_changes_nothing(run_in: RunIn) -> None:
    for _ in "12":
        services.start_run_in(run_in=run_in, now=at(0))
    for _ in "12":
        services.next_leg(run_in=run_in, leg=0, now=at(10))
    assert (run_in.leg, run_in.segments.count()) == (1, 2)
    for _ in "12":
        services.pause_run_in(run_in=run_in, now=at(12))
    assert read(run_in, 99) == pytest.approx(12)


def test_a_laptop_closed_overnight_adds_no_more_than_the_leg(run_in: RunIn) -> None:
    services.start_run_in(run_in=run_in, now=at(0))
    clock = clock_of(run_in, at(600))
    assert (clock.ran_s / 60, clock.turn_now) == (10, True)
    services.next_leg(run_in=run_in, leg=0, now=at(600))
    assert read(run_in, 601) == pytest.approx(11)


def test_a_clock_set_back_never_takes_minutes_away(run_in: RunIn) -> None:
    services.start_run_in(run_in=run_in, now=at(0))
    assert read(run_in, -30) == 0
    services.pause_run_in(run_in=run_in, now=at(-30))
    assert read(run_in, 5) == 0


def test_the_end_logs_the_minutes_once(run_in: RunIn) -> None:
    services.start_run_in(run_in=run_in, now=at(0))
    services.next_leg(run_in=run_in, leg=0, now=at(10))
    services.next_leg(run_in=run_in, leg=1, now=at(18))
    services.finish_run_in(run_in=run_in, now=at(30))
    assert RunningLog.objects.get().minutes == pytest.approx(18)
    assert queries.running_minutes(run_in.piece) == pytest.approx(18)
    assert RunIn.objects.get().state == "finished"


def test_a_pause_in_the_middle_of_a_leg_leaves_the_rest_of_it(run_in: RunIn) -> None:
    services.start_run_in(run_in=run_in, now=at(0))
    services.pause_run_in(run_in=run_in, now=at(4))
    services.start_run_in(run_in=run_in, now=at(10))
    services.next_leg(run_in=run_in, leg=0, now=at(100))  # 90 minutes, 6 of them planned
    assert read(run_in, 100) == pytest.approx(10)
    assert run_in.segments.order_by("started_at")[1].ended_at == at(16)


def test_a_reading_beyond_the_limit_stops_the_clock_and_logs_what_ran(piece: Piece) -> None:
    run_in = services.plan_run_in(piece=piece, current_limit_a=0.6, temperature_limit_c=60)
    services.start_run_in(run_in=run_in, now=at(0))
    services.add_sample(run_in=run_in, current_a=0.4, temperature_c=35, now=at(2))
    assert run_in.state == "running"
    services.add_sample(run_in=run_in, current_a=0.7, now=at(5))
    run_in.refresh_from_db()
    assert run_in.state == "stopped"
    assert "0.7 A is above the limit of 0.6 A" in run_in.stop_reason
    assert RunningLog.objects.get().minutes == pytest.approx(5)
    with pytest.raises(ConflictError, match="plan another"):
        services.start_run_in(run_in=run_in, now=at(6))


def test_a_sample_knows_minute_and_direction(run_in: RunIn) -> None:
    services.start_run_in(run_in=run_in, now=at(0))
    services.next_leg(run_in=run_in, leg=0, now=at(10))
    sample = services.add_sample(run_in=run_in, current_a=0.3, now=at(12), token="s")
    again = services.add_sample(run_in=run_in, current_a=0.3, now=at(13), token="s")
    assert (sample.minute, sample.direction, again.pk) == (12, "reverse", sample.pk)


@pytest.mark.parametrize(
    ("reading", "sentence"),
    [
        ({}, "type a current"),
        ({"temperature_c": 400.0}, "200"),
        ({"current_a": -1.0}, "current"),
        ({"current_a": float("nan")}, "current"),
    ],
)
def test_impossible_readings_are_refused(
    run_in: RunIn, reading: dict[str, float], sentence: str
) -> None:
    with pytest.raises(InputError, match=sentence):
        services.add_sample(run_in=run_in, **reading)


@pytest.mark.parametrize(
    "legs",
    [
        [],
        [{"direction": "sideways", "minutes": 10}],
        [{"direction": "forward", "minutes": 0}],
        [{"direction": "forward", "minutes": float("inf")}],
        [{"direction": "forward"}],
    ],
)
def test_impossible_plans_are_refused(piece: Piece, legs: list[dict[str, object]]) -> None:
    with pytest.raises(InputError):
        services.plan_run_in(piece=piece, legs=legs)


def test_running_is_logged_in_minutes(piece: Piece) -> None:
    services.log_running(piece=piece, minutes=25, token="t")
    services.log_running(piece=piece, minutes=25, token="t")
    assert queries.running_minutes(piece) == 25
    with pytest.raises(InputError, match="minutes"):
        services.log_running(piece=piece, minutes=-3)
