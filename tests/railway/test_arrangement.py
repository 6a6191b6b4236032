"""Checked against the examples of UIC leaflet 650 and of Whyte's notation (Dec 1900).

Rows follow the published articles on the UIC classification and on Whyte notation; the last
two rows (railbus, articulated multiple unit) are from memory.
"""

import string

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from outshop.errors import NotationError
from outshop.railway import whyte
from outshop.railway.arrangement import parse, to_uic, to_whyte
from outshop.railway.axle_groups import Arrangement, AxleGroup, Unit

# UIC, Whyte, driven axles, total axles, own motors
EXAMPLES = [
    ("A1", "0-2-2", 1, 2, False),
    ("1A1", "2-2-2", 1, 3, False),
    ("B", "0-4-0", 2, 2, False),
    ("1B", "2-4-0", 2, 3, False),
    ("2'B", "4-4-0", 2, 4, False),
    ("2'B1'", "4-4-2", 2, 5, False),
    ("C", "0-6-0", 3, 3, False),
    ("1'C", "2-6-0", 3, 4, False),
    ("1'C1'", "2-6-2", 3, 5, False),
    ("2'C", "4-6-0", 3, 5, False),
    ("2'C1'", "4-6-2", 3, 6, False),
    ("2'C2'", "4-6-4", 3, 7, False),
    ("D", "0-8-0", 4, 4, False),
    ("1'D", "2-8-0", 4, 5, False),
    ("1'D1'", "2-8-2", 4, 6, False),
    ("2'D1'", "4-8-2", 4, 7, False),
    ("2'D2'", "4-8-4", 4, 8, False),
    ("E", "0-10-0", 5, 5, False),
    ("1'E", "2-10-0", 5, 6, False),
    ("1'E1'", "2-10-2", 5, 7, False),
    ("(2'D)D2'", "4-8-8-4", 8, 12, False),
    ("B'B", "0-4-4-0", 4, 4, False),
    ("D'D", "0-8-8-0", 8, 8, False),
    ("(1'C)+(C1')", "2-6-0+0-6-2", 6, 8, False),
    ("(2'C1')+(1'C2')", "4-6-2+2-6-4", 6, 12, False),
    ("B'B'", None, 4, 4, False),
    ("Bo'Bo'", None, 4, 4, True),
    ("Co'Co'", None, 6, 6, True),
    ("(A1A)(A1A)", None, 4, 6, False),
    ("(1'C)(C1')", None, 6, 8, False),
    ("2'Do2'", "4-8-4", 4, 8, True),
    ("1'Do1'", "2-8-2", 4, 6, True),
    ("Bo'Bo'Bo'", None, 6, 6, True),
    ("(1A)(A1)", None, 2, 4, False),
    ("Bo'2'2'Bo'", None, 4, 8, True),
]


@pytest.mark.parametrize(("uic", "_whyte", "driven", "total", "motors"), EXAMPLES)
def test_published_examples_have_their_driven_and_total_axles(uic, _whyte, driven, total, motors):
    found = parse(uic)
    assert (found.driven_axles, found.total_axles, found.has_own_motors) == (driven, total, motors)
    assert to_uic(found) == uic


@pytest.mark.parametrize(("uic", "wheels", "_driven", "_total", "motors"), EXAMPLES)
def test_published_examples_map_between_uic_and_whyte(uic, wheels, _driven, _total, motors):
    assert to_whyte(parse(uic)) == wheels
    if wheels and not motors:  # Whyte does not tell separate motors
        assert to_uic(parse(wheels)) == uic


@pytest.mark.parametrize(
    ("typed", "uic"),
    [
        ("1’D1’", "1'D1'"),
        ("1´D1´", "1'D1'"),
        ("1′D1′", "1'D1'"),
        (" 1' D 1' ", "1'D1'"),
        ("B0'B0'", "Bo'Bo'"),
        ("bo'bo'", "Bo'Bo'"),
        ("BO'BO'", "Bo'Bo'"),
        ("B-B", "B'B'"),
        ("Bo-Bo", "Bo'Bo'"),
        ("Co–Co", "Co'Co'"),
        ("A1A-A1A", "(A1A)(A1A)"),
        ("2-Co-2", "2'Co2'"),
        ("2-C+C-2", "(2'C)(C2')"),
        ("1Co-Co1", "(1Co)(Co1)"),
        ("231", "2'C1'"),
        ("030", "C"),
        ("231+132", "(2'C1')+(1'C2')"),
        ("21C", "2'C1'"),
        ("3/3", "C"),
        ("2C1", "2C1"),
        ("(1'C)'(C1')'", "(1'C)(C1')"),
        ("(2)D", "2'D"),
        ("2'D1'h3S", "2'D1'h3S"),
        ("D'Dh4vtG", "D'Dh4vtG"),
        ("Cn2t", "Cn2t"),
        ("1'E1'h2Gt", "1'E1'h2Gt"),
        ("E", "E"),
        ("2'D1'h2T34", "2'D1'h2T34"),
        ("0-6-0T", "CT"),
    ],
)
def test_typing_variants_are_understood(typed, uic):
    assert to_uic(parse(typed)) == uic


@pytest.mark.parametrize(
    "nonsense",
    ["", "  ", "hello", "2'", "0-5-0", "0-6", "(B", "B)", "()", "((B))", "1'K", "B++B", "+B", "B-",
     "3/6", "2-8-2-", "1'D1'?", "🚂", "9", "0", "B0o", "Z" * 500, "B" * 100, "0-0-0", "2-0-2",
     "1o", "1990/1989"],
)  # fmt: skip
def test_what_is_no_arrangement_is_refused_in_one_sentence(nonsense):
    with pytest.raises(NotationError) as caught:
        parse(nonsense)
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) > 20


def test_engine_and_tender_give_one_row_of_labelled_axles():
    for found in (
        parse("1'D1'+2'2'"),
        parse("1'D1'", tender="2'2'"),
        parse("2-8-2", tender="2'2'"),
    ):
        assert [a.label for a in found.axles] == list("a1234b") + list("cdef")
        assert [a.kind for a in found.axles] == ["engine"] * 6 + ["tender"] * 4
        assert [a.bogie for a in found.axles] == [0, None, None, None, None, 1, 2, 2, 3, 3]
        assert found.total_axles == 6


def test_axles_in_a_bracket_share_a_bogie_but_their_truck_has_its_own():
    axles = parse("(2'D)D2'").axles
    assert [a.bogie for a in axles] == [1, 1, 0, 0, 0, 0, None, None, None, None, 2, 2]
    assert [a.bogie for a in parse("(A1A)(A1A)").axles] == [0, 0, 0, 1, 1, 1]


def test_a_trailer_behind_separate_motors_is_no_tender():
    assert [u.kind for u in parse("Bo'Bo'+2'2'").units] == ["engine", "trailer"]


def test_whyte_wheels_are_twice_the_axles():
    """Whyte's own arithmetic: 4 + 8 + 8 + 4 wheels on 12 axles."""
    assert parse("4-8-8-4").total_axles * 2 == 4 + 8 + 8 + 4


def test_every_reading_of_a_whyte_text_has_the_same_wheels():
    for text in ("2-4-2", "4-6-2", "2-8-8-2", "0-4-0"):
        every = whyte.readings(text)
        assert every[0] == parse(text).uic
        assert len(set(every)) == len(every)
        for uic in every:
            assert 2 * parse(uic).total_axles == sum(map(int, text.split("-")))


@st.composite
def signs(draw):
    """One letter or digit."""
    count, driven = draw(st.integers(1, 6)), draw(st.booleans())
    own_motors = driven and count > 1 and draw(st.booleans())
    return AxleGroup(count, driven, own_motors, draw(st.booleans()))


brackets = st.lists(signs(), min_size=2, max_size=4)
frames = st.lists(signs().map(lambda g: [g]) | brackets, min_size=1, max_size=4)


@st.composite
def engines(draw):
    """Random engines built without the parser."""
    groups, number = [], 0
    for frame in draw(frames):
        bracket = None
        if len(frame) > 1:
            bracket, number = number, number + 1
        groups += [AxleGroup(g.count, g.driven, g.own_motors, g.pivoted, bracket) for g in frame]
    groups.append(AxleGroup(draw(st.integers(1, 5)), driven=True))
    return Arrangement((Unit(tuple(groups)),))


@given(engines())
def test_written_uic_reads_back_the_same(engine):
    assume(not _looks_otherwise(engine))
    assert parse(to_uic(engine)) == engine


def _looks_otherwise(engine):
    """``21C`` has a meaning of its own."""
    text = engine.uic
    return len(text) == 3 and text[:2].isdigit() and text[2] in string.ascii_uppercase


carrying = st.sampled_from([0, 2, 4, 6])
driving = st.sampled_from([2, 4, 6, 8, 10, 12])


@given(carrying, st.lists(driving, min_size=1, max_size=3), carrying)
def test_whyte_reads_and_writes_back_the_same(lead, driven, trail):
    text = "-".join(map(str, (lead, *driven, trail)))
    assert to_whyte(parse(text)) == text


@given(carrying, driving, carrying, carrying, driving, carrying)
def test_garratts_read_and_write_back_the_same(a, b, c, d, e, f):
    text = f"{a}-{b}-{c}+{d}-{e}-{f}"
    assert to_whyte(parse(text)) == text


@given(st.text(max_size=30))
def test_any_text_is_an_arrangement_or_a_clear_refusal(text):
    try:
        found = parse(text)
    except NotationError:
        return
    assert len(found.axles) >= found.driven_axles >= 1
    assert len({a.label for a in found.axles}) == len(found.axles)


@pytest.mark.parametrize(("text", "groups"), [("2'2'", 2), ("2", 1), ("3'3'", 2)])
def test_a_coach_or_wagon_is_read_only_where_one_is_asked_for(text, groups):
    found = parse(text, hauled=True)
    assert (found.driven_axles, len(found.units[0].groups)) == (0, groups)
    with pytest.raises(NotationError, match="no driven axle"):
        parse(text)
