"""Dates as a person says them; the forms are those of ISO 8601-2:2019 (EDTF), levels 0 to 2."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from outshop.reports.spoken_dates import in_words


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("1958", "1958"),
        ("1958-03", "March 1958"),
        ("1958-03-05", "5 March 1958"),
        ("1958-21", "spring 1958"),
        ("1938~", "about 1938"),
        ("1938?", "perhaps 1938"),
        ("1938%", "perhaps about 1938"),
        ("1938-05~", "about May 1938"),
        ("195X", "the 1950s"),
        ("19XX", "1900 to 1999"),
        ("1958/1963", "1958 to 1963"),
        ("1938~/1959", "about 1938 to 1959"),
        ("../1963", "until 1963"),
        ("1958/..", "1958 and later"),
        ("[1959,1960]", "1959 or 1960"),
        ("{1959, 1960, 1964}", "1959, 1960 and 1964"),
        ("[1959..1962]", "1959 to 1962"),
        ("[..1962]", "1962 or earlier"),
        ("[1959..]", "1959 or later"),
    ],
)
def test_a_date_is_said_as_a_person_would(written, said):
    assert in_words(written) == said


@pytest.mark.parametrize("text", ["", "1958-02-30", "Y170000", "1958/1963/1970", "soon", "[,]"])
def test_what_has_no_plain_words_is_shown_as_it_was_typed(text):
    assert in_words(text) == text


@given(st.text(max_size=30))
def test_no_text_breaks_it(text):
    assert in_words(text) or not text
