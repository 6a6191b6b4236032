"""``outshop bench winding`` as a person runs it."""

import json
import subprocess
import sys

import pytest


def run(*arguments):
    return subprocess.run(
        [sys.executable, "-m", "outshop", "bench", "winding", *arguments],
        capture_output=True, text=True, check=False, timeout=120,
    )  # fmt: skip


def test_json_has_the_promised_shape():
    done = run("4.2", "4.1", "4.2", "--json")
    answer = json.loads(done.stdout)
    assert done.returncode == 0
    assert answer["verdict"] == "even"
    assert answer["suspect"] == []
    assert len(answer["coils"]) == 3
    assert answer["coils"][0]["unit"] == "ohm"
    assert 2 < answer["spread_percent"] < 8


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["-4", "4", "4"], "negative"),
        (["4", "x", "4"], "'x'"),
        (["4", "4"], "3 to 13"),
        (["4", "4", "4", "--connection", "ring"], "delta or star"),
        (["4V", "4V", "4V"], "'V'"),
        (["4", "4 ohm", "4"], "mix"),
    ],
)
def test_bad_readings_are_one_sentence_and_exit_code_1(arguments, says):
    done = run(*arguments)
    assert done.returncode == 1
    assert done.stdout == ""
    assert says in done.stderr
    assert done.stderr.count("\n") == 1


def test_commas_leads_and_star():
    answer = json.loads(
        run("8,3", "8,3", "8,3", "--connection", "star", "--lead", "0,3", "--json").stdout
    )
    assert answer["coils"][0]["value"] == pytest.approx(4.0)
