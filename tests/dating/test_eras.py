"""Eras of dated years.

Source: NEM 800 (2007), general sheet: era III about 1945 to 1970, IV about 1965 to 1990.
"""

import pytest

from outshop.dating.answer import answer
from outshop.dating.eras import eras_of
from outshop.dating.evidence import Evidence
from outshop.errors import TableError
from outshop.railway.edtf_years import read_years


def dated(window):
    evidence = (Evidence("x", read_years(window), 0.99, "prototype"),)
    return answer(evidence, range(1900, 2000), "prototype")


def test_a_year_in_the_fifties_is_era_three():
    rows = eras_of(dated("1955/1958"))
    assert rows[0]["era"] == "III"
    assert rows[0]["share"] > 0.8


def test_near_a_limit_both_eras_are_named():
    assert {"III", "IV"} == {r["era"] for r in eras_of(dated("1966/1969"))[:2]}


def test_a_country_without_a_table_is_a_sentence():
    with pytest.raises(TableError, match="no era table for country 'XX'; there are"):
        eras_of(dated("1955"), ["XX"])
