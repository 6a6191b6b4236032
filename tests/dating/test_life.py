"""The prototype's life: who could have met whom, and what it looked like when."""

import numpy as np
import pytest

from outshop.dating.life import (
    LifeEvent,
    check_details,
    could_have_met,
    in_service,
    never,
    value_in,
)
from outshop.railway.edtf_years import read_years


def event(kind, when, value=""):
    return LifeEvent(kind, read_years(when), value)


ENGINE = [
    event("built", "1923"),
    event("livery", "1923", "green"),
    event("livery", "1938/1940", "black"),
    event("withdrawn", "[1958,1961]"),
]


def test_doubtful_withdrawal_makes_possible_wider_than_certain():
    years = in_service(ENGINE)
    assert years.possible == (1923, 1961)
    assert years.certain == (1923, 1958)


@pytest.mark.parametrize(
    ("begin", "end", "possible", "certain"),
    [
        ("1950", "1970", (1950, 1961), (1950, 1958)),
        ("1959/1960", "1970", (1959, 1961), None),
        ("1900", "1910", (1923, 1910), None),
    ],
)
def test_meetings(begin, end, possible, certain):
    wagon = in_service([event("built", begin), event("withdrawn", end)])
    meeting = could_have_met(in_service(ENGINE), wagon)
    assert meeting.possible == possible
    assert meeting.certain == certain
    assert never(meeting) == (possible[0] > possible[1])


def test_meeting_does_not_depend_on_who_meets_whom():
    wagon = in_service([event("built", "1950"), event("withdrawn", "1970")])
    assert could_have_met(in_service(ENGINE), wagon) == could_have_met(wagon, in_service(ENGINE))


def test_an_engine_without_dates_could_have_met_anything_but_nothing_is_certain():
    nobody = in_service([])
    assert nobody.possible == (None, None)


@pytest.mark.parametrize(
    ("year", "liveries"),
    [(1922, ()), (1930, ("green",)), (1939, ("green", "black")), (1950, ("black",))],
)
def test_liveries_by_year(year, liveries):
    assert value_in(ENGINE, "livery", year) == liveries


def test_a_model_in_green_does_not_fit_the_fifties():
    years = range(1950, 1956)
    flat = np.full(6, 1 / 6)
    (check,) = check_details(ENGINE, {"livery": "green"}, flat, years)
    assert check.chance == 0
    assert check.expected == (("black", pytest.approx(1)),)
