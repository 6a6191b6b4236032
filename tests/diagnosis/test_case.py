"""Reading a case: what is accepted, and the sentence for what is not."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from outshop.diagnosis.case import Case, read_case, read_measured
from outshop.diagnosis.diagnosis import diagnose
from outshop.diagnosis.load import shipped_knowledge
from outshop.diagnosis.terms import band_of
from outshop.errors import InputError
from outshop.estimate import Estimate

KNOWLEDGE = shipped_knowledge()
IDS = sorted(s.id for s in KNOWLEDGE.signs)


def test_a_full_case_is_read():
    case = read_case(
        """
        [model]
        system = "dc2"
        motor = "permanent-magnet"
        decade = 1960
        [observed]
        yes = ["runs_slow", "motor_hot"]
        no = ["no_move_hum_buzz"]
        [measured]
        light_current_a = 0.35
        start_voltage_v = [3.0, 4.0]
        winding_verdict = "even"
        """,
        KNOWLEDGE,
    )
    assert (case.system, case.motor, case.years) == ("dc2", "permanent-magnet", "1961_1980")
    assert case.yes == ("runs_slow", "motor_hot")
    assert case.measured["light_current_a"] == Estimate.exact(0.35, "A")
    assert case.measured["start_voltage_v"].low == 3.0
    assert case.measured["winding_verdict"] == "even"


def test_an_empty_case_gives_priors_and_a_first_look():
    found = diagnose(read_case("", KNOWLEDGE))
    assert len(found.groups) == 35
    assert found.next_checks
    assert not found.causes[0].because


def test_unknown_words_mean_unknown():
    case = read_case('[model]\nsystem = "unknown"\nmotor = "unknown"\n', KNOWLEDGE)
    assert case == Case()


def test_what_is_none_of_its_tables_is_left_out_and_said():
    case = read_case('title = "An invented story"\n[observed]\nyes = ["jerky"]', KNOWLEDGE)
    assert case.yes == ("jerky",)
    assert any("title" in note for note in diagnose(case).notes)


def test_readings_that_judge_no_cause_are_left_out_and_said():
    case = read_case("[measured]\nlevel = 61.0\nrunning_current = 0.5", KNOWLEDGE)
    assert set(case.measured) == {"light_current_a"}
    assert any("level" in note for note in diagnose(case).notes)


def test_decade_nought_is_unknown():
    assert read_case("[model]\ndecade = 0", KNOWLEDGE).decade is None


FAULTS = [
    ('[observed]\nyes = ["runs_slwo"]', ["runs_slwo", "nearest: runs_slow"]),
    ('[observed]\nyes = ["jerky"]\nno = ["jerky"]', ["jerky", "yes and in no"]),
    ('[observed]\nyes = "jerky"', ["'yes' must be a list"]),
    ('[observed]\nmaybe = ["jerky"]', ["maybe"]),
    ('[model]\nsystem = "dc3"', ["dc3", "dc2"]),
    ("[model]\nmotor = 5", ["motor", "5"]),
    ("[model]\ndecade = 60", ["60", "1960"]),
    ('[model]\ndecade = "sixties"', ["sixties"]),
    ("[measured]\nlight_curent_a = 0.3", ["light_curent_a", "nearest: light_current"]),
    ("[measured]\nlight_current_a = -1", ["light_current_a", "negative"]),
    ("[measured]\nlight_current_a = nan", ["finite"]),
    ('[measured]\nlight_current_a = "much"', ["'much'", "number"]),
    ('[measured]\nlight_current_a = {value = 1, unit = "V"}', ["in V", "in A"]),
    ('[measured]\nwinding_verdict = "fine"', ["fine", "even"]),
    ("[observations]\nyes = []", ["observations", "observed"]),
    ("model = 5", ["[model]"]),
    ("[model", ["TOML"]),
]


@pytest.mark.parametrize(("text", "words"), FAULTS)
def test_a_wrong_case_is_refused_with_a_sentence(text, words):
    with pytest.raises(InputError) as refused:
        read_case(text, KNOWLEDGE)
    for word in words:
        assert word in str(refused.value)


def test_what_was_not_measurable_says_nothing():
    shape = {"value": None, "reason": "too noisy", "unit": "A"}
    assert read_measured({"light_current_a": shape}, KNOWLEDGE) == {}


@given(
    system=st.sampled_from([None, "dc2", "ac3", "digital2", "digital3", "s-ac"]),
    decade=st.one_of(st.none(), st.integers(1900, 2029)),
    yes=st.lists(st.sampled_from(IDS), max_size=6, unique=True),
    no=st.lists(st.sampled_from(IDS), max_size=4, unique=True),
)
def test_any_answers_give_probabilities_in_order(system, decade, yes, no):
    case = Case(system, None, decade, tuple(yes), tuple(x for x in no if x not in yes))
    found = diagnose(case)
    for listed in ([c.probability for c in found.causes], [p for _, p in found.groups]):
        assert all(0 <= p <= 1 for p in listed)
        assert listed == sorted(listed, reverse=True)
    by_group = dict(found.groups)
    assert all(c.probability <= by_group[c.cause.group] + 1e-9 for c in found.causes)


@pytest.mark.parametrize(
    ("decade", "band"),
    [(1930, "to_1945"), (1940, "to_1945"), (1946, "1946_1960"), (1960, "1961_1980"),
     (1980, "1981_1997"), (1999, "from_1998"), (2010, "from_1998")],
)  # fmt: skip
def test_decades_fall_into_age_bands(decade, band):
    assert band_of(decade) == band
