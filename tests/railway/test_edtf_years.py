"""Date texts and their years: examples of the EDTF specification, and what is refused.

Source of the notations: Library of Congress, Extended Date/Time Format specification (2019),
levels 0 to 2; the years beside each follow from its text.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from outshop.errors import NotationError
from outshop.railway.edtf_years import read_years

SPECIFICATION = {
    # level 0
    "1985-04-12": [(1985, 1985)],
    "1985-04": [(1985, 1985)],
    "1985": [(1985, 1985)],
    "1964/2008": [(1964, 2008)],
    "2004-06/2006-08": [(2004, 2006)],
    "2004-02-01/2005-02-08": [(2004, 2005)],
    "2004-02-01/2005-02": [(2004, 2005)],
    "2004-02-01/2005": [(2004, 2005)],
    "2005/2006-02": [(2005, 2006)],
    # level 1
    "Y170000002": [(170000002, 170000002)],
    "2001-21": [(2001, 2001)],
    "1984?": [(1984, 1984)],
    "2004-06~": [(2004, 2004)],
    "2004-06-11%": [(2004, 2004)],
    "201X": [(2010, 2019)],
    "20XX": [(2000, 2099)],
    "2004-XX": [(2004, 2004)],
    "1985-04-XX": [(1985, 1985)],
    "1985-XX-XX": [(1985, 1985)],
    "1985-04-12/..": [(1985, None)],
    "1985-04/..": [(1985, None)],
    "../1985-04-12": [(None, 1985)],
    "../1985": [(None, 1985)],
    "1985/": [(1985, None)],
    "/1985": [(None, 1985)],
    "1984~/2004-06": [(1984, 2004)],
    "1984?/2004%": [(1984, 2004)],
    # level 2
    "Y17E7": [(170000000, 170000000)],
    "1950S2": [(1900, 1999)],
    "2001-34": [(2001, 2001)],
    "[1667,1668,1670..1672]": [(1667, 1667), (1668, 1668), (1670, 1672)],
    "[..1760-12-03]": [(None, 1760)],
    "[1760-12..]": [(1760, None)],
    "[1667,1760-12]": [(1667, 1667), (1760, 1760)],
    "{1667,1668,1670..1672}": [(1667, 1667), (1668, 1668), (1670, 1672)],
    "{1960,1961-12}": [(1960, 1960), (1961, 1961)],
    "{..1984}": [(None, 1984)],
    "156X-12-25": [(1560, 1569)],
    "15XX-12-XX": [(1500, 1599)],
    "?2004-06-~11": [(2004, 2004)],
    "2004-06-~01/2004-06-~20": [(2004, 2004)],
}


@pytest.mark.parametrize(("text", "spans"), SPECIFICATION.items(), ids=SPECIFICATION)
def test_examples_of_the_specification(text, spans):
    assert list(read_years(text).spans) == spans


@pytest.mark.parametrize("text", ["1984?", "2004-06~", "1950~/1960"])
def test_doubt_is_kept_as_a_flag(text):
    assert read_years(text).approximate
    assert not read_years(text.translate(str.maketrans("", "", "~?"))).approximate


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("1990/1989", "ends before it begins"),
        ("1958-05/1958-04", "ends before it begins"),
        ("[1960..1950]", "ends before it begins"),
        ("0000", "before the year 1"),
        ("-0044", "before the year 1"),
        ("1956-02-30", "is not a date"),
        ("1961-13", "is not a date"),
        ("the fifties", "is not a date"),
        ("１９５８", "is not a date"),
        ("[]", "is not a date"),
        ("", "says nothing"),
    ],
)
def test_what_is_no_date_is_refused_with_its_text(text, why):
    with pytest.raises(NotationError, match=why):
        read_years(text)


@given(st.integers(1, 2500), st.integers(0, 200))
def test_an_interval_holds_its_years_and_no_other(first, length):
    years = read_years(f"{first:04}/{first + length:04}")
    assert first in years
    assert first + length in years
    assert first - 1 not in years
    assert first + length + 1 not in years
