"""The calendar file is read back whole by an independent RFC 5545 parser."""

from datetime import UTC, date, datetime, timedelta

import icalendar
import pytest
from hypothesis import given
from hypothesis import strategies as st

from outshop.errors import InputError
from outshop.workshop.calendar_file import DueEvent, calendar_file

STAMP = datetime(2026, 3, 1, 12, tzinfo=UTC)
words = st.text(
    st.characters(exclude_categories=["Cs", "Cc"], include_characters="\n"),
    min_size=1,
    max_size=200,
)


def events_of(text):
    calendar = icalendar.Calendar.from_ical(text)
    assert not calendar.errors
    return calendar, calendar.walk("VEVENT")


def test_an_event_comes_back_whole():
    event = DueEvent("care-7@outshop", date(2026, 12, 31), "Oil; grease, look", "One\nTwo\\", 7)
    calendar, (read,) = events_of(calendar_file([event], name="Care, due", stamp=STAMP))
    assert calendar["VERSION"] == "2.0"
    assert calendar["PRODID"]
    assert read["UID"] == event.uid
    assert read["SUMMARY"] == event.title
    assert read["DESCRIPTION"] == event.text
    assert read["DTSTART"].dt == event.day
    assert read["DTEND"].dt == date(2027, 1, 1)
    assert read["DTSTAMP"].dt == STAMP
    (alarm,) = read.walk("VALARM")
    assert alarm["TRIGGER"].dt == timedelta(days=-7)


@given(st.lists(st.tuples(words, words, st.dates()), max_size=5))
def test_any_words_come_back(items):
    items = [i for i in items if i[2] < date.max and i[2].year >= 1000]
    events = [DueEvent(f"k{n}", day, title, text) for n, (title, text, day) in enumerate(items)]
    _, read = events_of(calendar_file(events, name="x", stamp=STAMP))
    assert [(r["SUMMARY"], r["DESCRIPTION"], r["DTSTART"].dt) for r in read] == items


@given(words)
def test_lines_end_in_crlf_and_hold_at_most_75_octets(title):
    """RFC 5545, 3.1."""
    text = calendar_file([DueEvent("k", date(2026, 1, 1), title)], name=title, stamp=STAMP)
    assert text.endswith("\r\n")
    lines = text.split("\r\n")
    assert all(len(line.encode()) <= 75 for line in lines)
    assert not any("\n" in line for line in lines)


def test_control_signs_and_broken_text_cannot_break_the_file():
    event = DueEvent("k", date(2026, 1, 1), "a\x00b\rEND:VCALENDAR\ud800")
    _, (read,) = events_of(calendar_file([event], name="x", stamp=STAMP))
    assert read["SUMMARY"] == "ab\nEND:VCALENDAR?"


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (lambda: DueEvent("", date(2026, 1, 1), "x"), "needs a key and a title"),
        (lambda: DueEvent("k", date(2026, 1, 1), "x", remind_days=-1), "before the day"),
        (lambda: calendar_file([], name="x", stamp=datetime(2026, 1, 1)), "lacks its zone"),  # noqa: DTZ001 - the fault
        (
            lambda: calendar_file(
                [DueEvent("k", date(2026, 1, 1), "x")] * 2, name="x", stamp=STAMP
            ),
            "two calendar events have the key 'k'",
        ),
    ],
)
def test_bad_input_is_a_sentence(make, sentence):
    with pytest.raises(InputError, match=sentence):
        make()


def test_an_empty_calendar_is_a_calendar():
    _, read = events_of(calendar_file([], name="x", stamp=STAMP))
    assert read == []
