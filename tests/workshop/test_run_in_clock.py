"""Minutes run, from stretches in any zone, and when a reading says stop."""

from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from outshop.errors import InputError
from outshop.workshop.run_in import DEFAULT_MINUTES, Limits, Mark, ran_seconds, stop_reason

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)


def after(minutes):
    return NOON + timedelta(minutes=minutes)


def test_ten_minutes_each_way_is_the_start_value():
    """Common practice, no source."""
    assert DEFAULT_MINUTES == 10


@given(st.lists(st.tuples(st.integers(0, 500), st.integers(0, 90)), max_size=12))
def test_each_moment_counts_once(pieces):
    """Against counting the seconds one by one."""
    marks = [Mark(NOON + timedelta(seconds=s), NOON + timedelta(seconds=s + n)) for s, n in pieces]
    seconds = {t for start, length in pieces for t in range(start, start + length)}
    assert ran_seconds(marks, after(30)) == len(seconds)


def test_a_pause_stops_the_clock_and_a_reload_changes_nothing():
    marks = [Mark(NOON, after(4))]
    assert ran_seconds(marks, after(4)) == ran_seconds(marks, after(4000)) == 240
    assert ran_seconds([*marks, Mark(after(60))], after(61)) == 300


def test_the_night_when_the_clocks_go_back_counts_real_minutes():
    """Zone database: Europe/Berlin leaves summer time on 2026-10-25 at 03:00 (01:00 UTC)."""
    berlin = ZoneInfo("Europe/Berlin")
    mark = Mark(
        datetime(2026, 10, 25, 2, 55, tzinfo=berlin),
        datetime(2026, 10, 25, 2, 5, fold=1, tzinfo=berlin),
    )
    assert ran_seconds([mark], NOON + timedelta(days=300)) == 600


def test_the_night_when_the_clocks_go_forward_counts_real_minutes():
    """Zone database: Europe/Berlin enters summer time on 2026-03-29 at 02:00 (01:00 UTC)."""
    berlin = ZoneInfo("Europe/Berlin")
    mark = Mark(
        datetime(2026, 3, 29, 1, 55, tzinfo=berlin), datetime(2026, 3, 29, 3, 5, tzinfo=berlin)
    )
    assert ran_seconds([mark], NOON + timedelta(days=300)) == 600


def test_stretches_from_different_zones_are_the_same_moments():
    east = timezone(timedelta(hours=9))
    assert ran_seconds([Mark(NOON.astimezone(east), after(6))], after(30)) == 360


def test_a_clock_that_was_set_back_takes_no_time_away():
    assert ran_seconds([Mark(after(5))], NOON) == 0
    assert ran_seconds([Mark(NOON, after(-10)), Mark(after(1), after(3))], after(9)) == 120


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (lambda: Mark(datetime(2026, 1, 1)), "lacks its zone"),  # noqa: DTZ001 - the fault
        (lambda: ran_seconds([], datetime(2026, 1, 1)), "zone"),  # noqa: DTZ001 - the fault
        (lambda: stop_reason(Limits(), temperature_c=400), "400 °C cannot be right"),
        (lambda: stop_reason(Limits(), current_a=-1), "-1 A cannot be right"),
        (lambda: stop_reason(Limits(), temperature_c=float("nan")), "cannot be right"),
    ],
)
def test_bad_input_is_a_sentence(make, sentence):
    with pytest.raises(InputError, match=sentence):
        make()


def test_stop_only_above_the_limit():
    limits = Limits(temperature_c=55, current_a=0.5)
    assert stop_reason(limits, temperature_c=55, current_a=0.5) == ""
    assert stop_reason(limits, temperature_c=61) == "61 °C is above the limit of 55 °C"
    both = stop_reason(limits, temperature_c=61, current_a=0.7)
    assert both == "0.7 A is above the limit of 0.5 A and 61 °C is above the limit of 55 °C"
    assert stop_reason(Limits(None, None), temperature_c=90, current_a=3) == ""
