"""Checked against NEM 800 (2007), 806 D (2008), 804 CH (2009), 810 F (2004)."""

import pytest

from outshop.errors import NotationError
from outshop.railway.eras import all_eras, countries, era_of, years_of


def codes(country, year):
    return {e.code for e in era_of(country, year)}


@pytest.mark.parametrize(
    ("country", "year", "expected"),
    [
        ("D", 1930, {"II", "IIb"}),
        ("D", 1952, {"III", "IIIa"}),
        ("D", 1967, {"III", "IIIb", "IV", "IVa"}),  # eras III and IV overlap by design
        ("D", 1985, {"IV", "IVc"}),
        ("CH", 1902, {"I", "Ic", "Id"}),  # the national railway starts on 1 Jan 1902
        ("CH", 1984, {"IV", "IVb"}),
        ("F", 1938, {"II", "IIc"}),  # the national railway starts in 1938
        ("A", 1930, {"II", "IIb"}),
        ("NL", 1960, {"III"}),  # its later eras are not in the sheet seen: general sheet
        ("", 1968, {"III", "IV"}),
        ("D", 1700, set()),
    ],
)
def test_a_year_finds_its_eras(country, year, expected):
    assert codes(country, year) == expected


def test_periods_lie_inside_their_era_and_follow_each_other():
    for era in all_eras():
        assert era.last is None or era.first <= era.last
        assert era.source
        if era.letter:
            whole = [e for e in all_eras() if (e.country, e.name) == (era.country, era.name)]
            whole = next(e for e in whole if not e.letter)
            assert whole.first <= era.first
            assert whole.last is None or era.last <= whole.last


def test_each_year_since_1840_has_an_era_everywhere():
    for country in ("", *countries()):
        assert all(codes(country, year) for year in range(1840, 2027)), country


def test_a_code_finds_its_years_and_nonsense_is_refused():
    assert (years_of("D", "IIIb").first, years_of("D", "iiib").last) == (1956, 1970)
    with pytest.raises(NotationError, match="XX"):
        years_of("D", "XX")
