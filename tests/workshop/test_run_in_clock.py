"""The run-in clock reads marks in any zone and tells phase, time left and when to stop."""

from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from outshop.errors import InputError
from outshop.workshop.run_in import (
    Limits,
    Mark,
    Phase,
    Programme,
    default_programme,
    progress,
    ran_minutes,
    stop_sign,
)

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)


def after(minutes):
    return NOON + timedelta(minutes=minutes)


def test_the_default_is_ten_minutes_each_way():
    """Common practice, no source."""
    programme = default_programme()
    ways = {"forward": 0.0, "reverse": 0.0}
    for phase in programme.phases:
        ways[phase.direction] += phase.minutes
    assert ways == {"forward": 10, "reverse": 10}


def test_before_the_first_start_all_is_left():
    state = progress(default_programme(), [], NOON)
    assert (state.elapsed_s, state.left_s, state.running, state.done) == (0, 1200, False, False)


@pytest.mark.parametrize(
    ("minute", "number", "turn"), [(2, 0, False), (7, 1, True), (12, 2, False), (17, 3, False)]
)
def test_the_phase_follows_the_minutes(minute, number, turn):
    state = progress(default_programme(), [Mark(NOON)], after(minute))
    assert (state.phase_number, state.turn_next, state.running) == (number, turn, True)
    assert state.phase_elapsed_s + state.phase_left_s == 300


def test_a_pause_stops_the_clock_and_a_reload_changes_nothing():
    marks = [Mark(NOON, after(4))]
    first, later = (progress(default_programme(), marks, after(m)) for m in (4, 4000))
    assert first == later
    assert first.elapsed_s == 240


def test_past_the_end_it_is_done_and_no_longer_runs():
    state = progress(default_programme(), [Mark(NOON)], after(55))
    assert state.done
    assert not state.running
    assert state.left_s == 0
    assert state.phase_number == 3


@given(st.lists(st.integers(1, 600), min_size=1, max_size=12), st.integers(0, 3000))
def test_elapsed_and_left_always_add_to_the_programme(seconds, wait):
    marks, moment = [], NOON
    for length in seconds:
        marks.append(Mark(moment, moment + timedelta(seconds=length)))
        moment += timedelta(seconds=length + 60)
    state = progress(default_programme(), marks, moment + timedelta(seconds=wait))
    assert state.elapsed_s + state.left_s == pytest.approx(1200)
    assert state.elapsed_s == pytest.approx(min(sum(seconds), 1200))


def test_the_night_when_the_clocks_go_back_counts_real_minutes():
    """Zone database: Europe/Berlin leaves summer time on 2026-10-25 at 03:00 (01:00 UTC)."""
    berlin = ZoneInfo("Europe/Berlin")
    mark = Mark(
        datetime(2026, 10, 25, 2, 55, tzinfo=berlin),
        datetime(2026, 10, 25, 2, 5, fold=1, tzinfo=berlin),
    )
    assert ran_minutes([mark], NOON + timedelta(days=300)) == pytest.approx(10)


def test_marks_from_different_zones_are_the_same_moment():
    east = timezone(timedelta(hours=9))
    mark = Mark(NOON.astimezone(east), after(6))
    assert ran_minutes([mark], after(30)) == pytest.approx(6)


def test_overlapping_stretches_count_once_and_are_told():
    marks = [Mark(NOON, after(6)), Mark(after(3), after(8))]
    state = progress(default_programme(), marks, after(20))
    assert state.elapsed_s == 480
    assert any("overlap" in w for w in state.warnings)


def test_a_start_in_the_future_counts_nothing_and_is_told():
    state = progress(default_programme(), [Mark(after(5))], NOON)
    assert state.elapsed_s == 0
    assert any("future" in w for w in state.warnings)


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (lambda: Mark(datetime(2026, 1, 1)), "lacks its zone"),  # noqa: DTZ001 - the fault
        (lambda: Mark(NOON, after(-1)), "before started"),
        (lambda: progress(default_programme(), [], datetime(2026, 1, 1)), "zone"),  # noqa: DTZ001
        (lambda: progress(default_programme(), [Mark(NOON), Mark(after(1))], after(2)), "twice"),
        (lambda: Phase("sideways", "low", 5), "forward or reverse"),
        (lambda: Phase("forward", "low", 0), "more than 0"),
        (lambda: Phase("forward", "low", float("nan")), "more than 0"),
        (lambda: Programme(()), "at least one phase"),
        (lambda: default_programme(-3), "more than 0"),
        (lambda: stop_sign(Limits(), temperature_c=400), "400 °C cannot be right"),
        (lambda: stop_sign(Limits(), current_a=-1), "-1 A cannot be right"),
        (lambda: stop_sign(Limits(), temperature_c=float("nan")), "cannot be right"),
    ],
)
def test_bad_input_is_a_sentence(make, sentence):
    with pytest.raises(InputError, match=sentence):
        make()


def test_stop_only_above_the_limit():
    limits = Limits(temperature_c=55, current_a=0.5)
    assert stop_sign(limits, temperature_c=55, current_a=0.5) is None
    assert "61 °C is above" in stop_sign(limits, temperature_c=61)
    both = stop_sign(limits, temperature_c=61, current_a=0.7)
    assert "61 °C" in both
    assert "0.7 A" in both
    assert stop_sign(Limits(None, None), temperature_c=90, current_a=3) is None
