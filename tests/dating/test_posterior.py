"""The posterior is plain enumeration, and behaves as weighing of evidence must."""

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from outshop.dating.answer import answer
from outshop.dating.evidence import Evidence
from outshop.dating.posterior import posterior, smallest_years
from outshop.railway.edtf_years import read_years

YEARS = range(1900, 1931)


@st.composite
def one_evidence(draw, years=YEARS):
    first = draw(st.integers(years.start, years.stop - 1))
    last = draw(st.integers(first, years.stop - 1))
    text = draw(
        st.sampled_from(
            [f"{first}/{last}", f"{first}", f"../{last}", f"{first}/..", f"[{first},{last}]"]
        )
    )
    trust = draw(st.floats(0.05, 0.95))
    about = draw(st.sampled_from(["edition", "prototype"]))
    return Evidence("x", read_years(text), trust, about, text=text)


cases = st.lists(one_evidence(), max_size=8)


def in_window(text, year):
    """Read the handful of window forms used here, independently of the code under test."""
    if text.startswith("["):
        return str(year) in text[1:-1].split(",")
    first, _, last = text.partition("/") if "/" in text else (text, "", text)
    return (first == ".." or int(first) <= year) and (last == ".." or year <= int(last))


def enumerated(evidence, years):
    weights = []
    for year in years:
        weight = 1.0
        for item in evidence:
            weight *= item.trust if in_window(item.text, year) else 1 - item.trust
        weights.append(weight)
    return [w / sum(weights) for w in weights]


@given(cases)
def test_posterior_is_enumeration(evidence):
    assert posterior(evidence, YEARS) == pytest.approx(enumerated(evidence, YEARS), abs=1e-12)


@given(cases, st.randoms(use_true_random=False))
def test_order_of_evidence_never_matters(evidence, random):
    shuffled = random.sample(evidence, len(evidence))
    assert np.allclose(posterior(shuffled, YEARS), posterior(evidence, YEARS), atol=1e-12)


@given(cases)
def test_a_window_of_all_years_and_a_trust_of_one_half_change_nothing(evidence):
    idle = [
        Evidence("all", read_years("1900/1930"), 0.7),
        Evidence("coin", read_years("1910/1912"), 0.5),
    ]
    assert np.allclose(posterior([*evidence, *idle], YEARS), posterior(evidence, YEARS), atol=1e-12)


@given(cases)
def test_the_named_years_are_the_fewest_that_hold_95_percent(evidence):
    probability = posterior(evidence, YEARS)
    spans = smallest_years(probability, YEARS)
    named = [y for a, b in spans for y in range(a, b + 1)]
    held = sum(probability[y - YEARS.start] for y in named)
    assert held >= 0.95 - 1e-9
    best_of_one_less = sum(sorted(probability, reverse=True)[: len(named) - 1])
    assert best_of_one_less < 0.95 + 1e-9


def test_equal_years_are_joined_to_one_span():
    evidence = [Evidence("a", read_years("1905/1909"), 0.999)]
    assert smallest_years(posterior(evidence, YEARS), YEARS) == [[1905, 1909]]


def test_many_agreeing_evidences_do_not_underflow():
    evidence = [Evidence("a", read_years("1905/1909"), 0.9)] * 5000
    assert posterior(evidence, YEARS)[5:10] == pytest.approx([0.2] * 5)


def test_a_question_without_evidence_leaves_all_years_alike_and_says_so():
    found = answer((), YEARS, "prototype")
    assert set(found.probability) == {1 / 31}
    assert "no evidence about the prototype" in found.warnings[0]


@given(cases)
def test_edition_and_prototype_do_not_touch_each_other(evidence):
    both = answer(tuple(evidence), YEARS, "edition")
    alone = answer(tuple(e for e in evidence if e.about == "edition"), YEARS, "edition")
    assert np.allclose(both.probability, alone.probability, atol=1e-12)
    assert all(
        evidence[i].about == "edition"
        for i in itertools.chain(*both.conflicts.clashes, *both.conflicts.set_aside)
    )
