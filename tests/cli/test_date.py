"""``outshop date`` keeps its contract."""

import json

import pytest
from typer.testing import CliRunner

from outshop.cli.main import build_app
from outshop.errors import TableError

CASE = """
first_year = 1950
last_year = 1970
[[evidence]]
what = "road number"
window = "1950/1963"
trust = 0.9
about = "prototype"
[[evidence]]
what = "box"
window = "1965/1970"
trust = 0.6
[[evidence]]
what = "black wheels"
window = "1958/1960"
trust = 0.9
[[evidence]]
what = "label"
window = "1957/1961"
trust = 0.8
"""


def run(tmp_path, text, *options):
    path = tmp_path / "evidence.toml"
    path.write_text(text, encoding="utf-8")
    return CliRunner().invoke(build_app(), ["date", str(path), *options])


def test_json_names_the_odd_one_by_its_index_over_all_evidence(tmp_path):
    result = json.loads(run(tmp_path, CASE, "--json").stdout)
    edition = result["edition"]
    # by hand, in thousandths: 58 to 60 weigh 288 each, 57 and 61 32, 65 to 70 12, the rest 8 of
    # 1080 in all; 95 % need four of the rest, taken beside the span
    assert edition["years"] == [[1953, 1961], [1965, 1970]]
    assert not edition["consistent"]
    assert edition["conflicts"] == [[1, 2], [1, 3]]
    assert edition["set_aside"] == [[1]]
    assert sum(edition["posterior"].values()) == pytest.approx(1)
    assert list(edition["posterior"]) == [str(y) for y in range(1950, 1971)]
    assert result["prototype"]["consistent"]
    assert result["prototype"]["conflicts"] == []
    assert result["eras"][0]["era"] == "III"


def test_the_posterior_of_one_evidence_by_hand(tmp_path):
    """Two years in, one out: 0.9, 0.9, 0.1 over 1.9."""
    text = 'first_year=1958\nlast_year=1960\n[[evidence]]\nwhat="x"\nwindow="1958/1959"\ntrust=0.9'
    posterior = json.loads(run(tmp_path, text, "--json").stdout)["edition"]["posterior"]
    assert posterior == pytest.approx({"1958": 0.9 / 1.9, "1959": 0.9 / 1.9, "1960": 0.1 / 1.9})


def test_the_page_for_people_names_what_does_not_fit(tmp_path):
    text = run(tmp_path, CASE).stdout
    assert "does not fit unless set aside: box" in text


def test_bad_input_is_an_error_of_ours(tmp_path):
    result = run(tmp_path, CASE.replace("0.6", "2"), "--json")
    assert isinstance(result.exception, TableError)
    assert result.stdout == ""
