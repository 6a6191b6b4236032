"""Evidence files: what is read, and each bad entry with its sentence."""

import pytest

from outshop.dating.evidence import read_case
from outshop.errors import TableError

GOOD = """
first_year = 1900
last_year = 1950
[[evidence]]
what = "schwarze Räder"
window = "1908/1913"
trust = 0.9
[[evidence]]
what = "番号"
window = "1910/.."
trust = 0.8
about = "prototype"
source = "works list, p. 3"
"""


def entry(**changes):
    keys = {"what": '"box"', "window": '"1908/1913"', "trust": "0.9"} | changes
    lines = "\n".join(f"{k} = {v}" for k, v in keys.items() if v is not None)
    return f"first_year = 1900\nlast_year = 1950\n[[evidence]]\n{lines}\n"


def test_a_good_file_is_read_with_any_script():
    case = read_case(GOOD)
    assert (case.first_year, case.last_year) == (1900, 1950)
    assert [e.what for e in case.evidence] == ["schwarze Räder", "番号"]
    assert [e.about for e in case.evidence] == ["edition", "prototype"]


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        (entry(window='"1913/1908"'), r"evidence 0 \(box\).*ends before it begins"),
        (entry(window='"soon"'), r"evidence 0 \(box\).*is not a date"),
        (entry(window='"-0050"'), "before the year 1"),
        (entry(window='"0000"'), "before the year 1"),
        (entry(window='"1800/1850"'), "entirely outside the years 1900 to 1950.*widen"),
        (entry(window='"1960/.."'), "entirely outside"),
        (entry(trust="0"), "trust must lie between 0 and 1.*got 0"),
        (entry(trust="1"), "trust must lie between 0 and 1.*got 1"),
        (entry(trust="2"), "trust must lie between 0 and 1.*got 2"),
        (entry(trust='"high"'), "trust must be a number"),
        (entry(trust="true"), "trust must be a number"),
        (entry(trust="nan"), "trust must lie between"),
        (entry(trust=None), "say how far to trust it"),
        (entry(about='"box"'), "about must be edition or prototype; got 'box'"),
        ("first_year = 1900\nlast_year = 1950\n", "there is no evidence"),
        ("evidence = [1]", "must be a table"),
        (entry().replace("1950\n", "1899\n", 1), "turn them round"),
        (entry().replace("1900", "0", 1), "must be 1 or later"),
        (entry().replace("1900", "'x'", 1), "whole year"),
        (entry().replace("1950\n", "99999\n", 1), "narrow the range"),
        ("what = ", "not TOML"),
    ],
)
def test_a_bad_entry_is_a_sentence_with_entry_and_cure(text, sentence):
    with pytest.raises(TableError, match=sentence):
        read_case(text)


def test_a_misspelt_key_is_pointed_out():
    assert "did you mean source" in read_case(entry(sourc='"x"')).warnings[0]


def test_an_approximate_window_is_taken_as_written_and_said_so():
    case = read_case(entry(window='"1908~/1913"'))
    assert 1907 not in case.evidence[0].window
    assert "widen the window" in case.warnings[0]


@pytest.mark.parametrize("window", ["1910", "1910-05-01"])
def test_bare_years_and_toml_dates_are_welcome(window):
    assert 1910 in read_case(entry(window=window)).evidence[0].window
