"""``outshop diagnose`` follows its contract."""

import json

import pytest
from typer.testing import CliRunner

from outshop.cli.main import build_app
from outshop.errors import InputError

CASE = """
[model]
system = "dc2"
motor = "permanent-magnet"
decade = 1960
[observed]
yes = ["runs_slow", "motor_hot"]
no = ["no_move_hum_buzz"]
[measured]
light_current_a = 0.35
"""


def run(*words):
    return CliRunner().invoke(build_app(), ["diagnose", *map(str, words)], catch_exceptions=True)


@pytest.fixture(name="case")
def _case(tmp_path):
    file = tmp_path / "case.toml"
    file.write_text(CASE, encoding="utf-8")
    return file


def test_json_has_the_contract_s_keys(case):
    result = run(case, "--json")
    assert result.exit_code == 0, result.output
    found = json.loads(result.stdout)
    assert {"causes", "groups", "next_checks", "stop"} <= set(found)
    assert {"id", "group", "name", "probability", "because"} <= set(found["causes"][0])
    assert {"id", "name", "minutes", "information_bits", "score", "cautions"} <= set(
        found["next_checks"][0]
    )
    assert len(found["groups"]) == 35
    chances = [c["probability"] for c in found["causes"]]
    assert chances == sorted(chances, reverse=True)
    assert found["stop"][0]["id"] == "too_hot"


def test_reading_changes_nothing(case):
    before = case.read_bytes()
    run(case, "--json")
    assert case.read_bytes() == before


def test_a_person_reads_stop_causes_and_next_check(case):
    result = run(case)
    lines = result.stdout.splitlines()
    assert lines[0].startswith("STOP")
    assert "Next check" in result.stdout


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ('[observed]\nyes = ["runs_slo"]', "nearest: runs_slow"),
        ('[observed]\nyes = ["jerky"]\nno = ["jerky"]', "jerky"),
        ("[observed", "TOML"),
    ],
)
def test_input_at_fault_is_one_sentence(tmp_path, text, word):
    file = tmp_path / "case.toml"
    file.write_text(text, encoding="utf-8")
    result = run(file)
    assert isinstance(result.exception, InputError)
    assert word in str(result.exception)


def test_added_knowledge_and_learnt_counts_are_used(case, tmp_path):
    counts = tmp_path / "counts.json"
    counts.write_text(
        json.dumps({"format": "outshop-cause-counts-1", "counts": {"magnet_weak": 40}}),
        encoding="utf-8",
    )
    plain = json.loads(run(case, "--json").stdout)
    learnt = json.loads(run(case, "--json", "--learnt", counts).stdout)

    def magnet(found):
        return next(g["probability"] for g in found["groups"] if g["group"] == "weak_magnet")

    assert magnet(learnt) > magnet(plain)


def test_a_missing_file_is_said(tmp_path):
    result = run(tmp_path / "nowhere.toml")
    assert "nowhere.toml" in str(result.exception)
