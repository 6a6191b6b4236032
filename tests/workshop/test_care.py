"""Care falls due by hours or months, whichever first; lubrication points stand at the axles."""

from datetime import date, timedelta

import pytest
from dateutil.relativedelta import relativedelta
from hypothesis import given
from hypothesis import strategies as st

from outshop.errors import InputError, MissingError
from outshop.workshop.care import CareRule, add_months, care_rule, care_rules, due, in_order
from outshop.workshop.lubrication import all_points, points_at
from outshop.workshop.parts import all_parts
from outshop.workshop.tasks import all_tasks

TODAY = date(2026, 6, 1)
OIL = care_rule("lubricate")
days = st.dates(date(1900, 1, 1), date(2100, 1, 1))


def test_oil_starts_at_forty_hours_or_a_year():
    """Common practice, no source."""
    assert (OIL.every_hours, OIL.every_months) == (40, 12)


@given(days, st.integers(1, 600))
def test_months_are_added_as_an_independent_library_adds_them(day, months):
    assert add_months(day, months) == day + relativedelta(months=months)


@pytest.mark.parametrize(
    ("hours", "since", "state"),
    [
        (0, date(2026, 5, 1), "later"),
        (39, date(2026, 5, 1), "soon"),
        (40, date(2026, 5, 1), "due"),
        (55, date(2026, 5, 1), "due"),
        (0, date(2025, 6, 1), "due"),
        (0, date(2025, 6, 20), "soon"),
        (0, date(2025, 8, 1), "later"),
    ],
)
def test_whichever_comes_first_decides(hours, since, state):
    assert due(OIL, today=TODAY, since=since, hours_since=hours).state == state


@given(days, days, st.floats(0, 100), st.floats(0, 60))
def test_more_hours_or_more_age_never_make_it_less_urgent(today, since, hours, pace):
    rank = {"later": 0, "soon": 1, "due": 2}
    now = due(OIL, today=today, since=since, hours_since=hours, hours_per_month=pace)
    then = due(
        OIL, today=today + timedelta(days=9), since=since, hours_since=hours + 1,
        hours_per_month=pace,
    )  # fmt: skip
    assert rank[then.state] >= rank[now.state]


def test_the_present_pace_foresees_the_day():
    """20 hours left at 10 hours a month are two mean months."""
    answer = due(OIL, today=TODAY, since=TODAY, hours_since=20, hours_per_month=10)
    assert answer.day == TODAY + timedelta(days=61)
    assert answer.reason == "by hours"


def test_what_was_never_noted_says_so():
    assert due(care_rule("tyres"), today=TODAY, since=None).state == "no start"
    assert due(care_rule("brushes"), today=TODAY, since=None, hours_since=120).state == "due"


def test_rules_apply_by_part_state_and_year_of_make():
    assert not care_rule("tyres").applies(without=["tyres"])
    humid, pest = care_rule("humidity"), care_rule("zinc-pest")
    assert humid.applies(state="stored")
    assert not humid.applies(state="in_traffic")
    assert pest.applies(made=1935)
    assert pest.applies(made=None)
    assert not pest.applies(made=1985)


def test_the_list_is_ordered_by_urgency():
    states = [
        due(OIL, today=TODAY, since=TODAY),
        due(OIL, today=TODAY, since=date(2020, 1, 1)),
        due(care_rule("tyres"), today=TODAY, since=None),
        due(OIL, today=TODAY, since=date(2025, 6, 20)),
        due(OIL, today=TODAY, since=date(2019, 1, 1)),
    ]
    ordered = in_order(states)
    assert [d.state for d in ordered] == ["due", "due", "soon", "no start", "later"]
    assert ordered[0].day < ordered[1].day


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({}, "has no interval"),
        ({"every_hours": 0}, "cannot fall due every 0 hours"),
        ({"every_months": -2}, "every -2 months"),
        ({"every_hours": float("nan")}, "every nan hours"),
    ],
)
def test_rules_without_a_true_interval_are_refused(fields, sentence):
    with pytest.raises(InputError, match=sentence):
        CareRule("x", "Polish", **fields)


def test_negative_hours_and_unknown_rules_are_told():
    with pytest.raises(InputError, match="cannot be -1"):
        due(OIL, today=TODAY, since=TODAY, hours_since=-1)
    with pytest.raises(MissingError, match="no care is called 'polish'"):
        care_rule("polish")


def test_far_intervals_do_not_break_the_calendar():
    far = CareRule("x", "X", every_months=10_000)
    assert due(far, today=TODAY, since=date(9990, 1, 1)).day == date.max


def test_the_tables_name_parts_and_tasks_that_exist():
    parts, tasks = {p.id for p in all_parts()}, {t.id for t in all_tasks()}
    assert {r.part for r in care_rules()} <= {"", *parts}
    assert {r.task for r in care_rules()} <= {"", *tasks}
    assert all(r.source for r in care_rules())
    assert {p.part for p in all_points()} <= parts


def test_points_stand_at_the_axles_they_concern():
    found = {p.point.id: p.axles for p in points_at([("a", False), ("1", True), ("2", True)])}
    assert found["axle-bearings"] == ("a", "1", "2")
    assert found["gear-train"] == ("1", "2")
    assert found["motor-bearings"] == ()
    assert "crank-pins" not in {p.point.id for p in points_at([], without=["rods"])}


def test_where_oil_does_harm_it_is_forbidden():
    """Tyres, commutator and contacts take none: common practice, no source."""
    forbidden = {p.part for p in all_points() if p.kind == "none"}
    assert forbidden == {"tyres", "commutator", "pick-up"}
    assert all(p.warning for p in all_points())
