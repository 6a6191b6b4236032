"""``outshop bench wheels`` and the other gauges on the command line."""

import json

import pytest
from typer.testing import CliRunner

from outshop.cli.main import build_app
from outshop.errors import OutshopError


def run(*arguments):
    return CliRunner().invoke(build_app(), ["bench", *map(str, arguments)])


@pytest.mark.parametrize("typed", ["14.2,14.3,14.2", "14,2;14,3;14,2", "14,2,14,3,14,2"])
def test_json_names_verdict_and_excess(typed):
    done = run(
        "wheels", "--standard", "NEM310", "--gauge-mm", "16.5", "--back-to-back", typed, "--json"
    )
    answer = json.loads(done.stdout)
    assert answer["verdict"] == "out"
    (check,) = answer["checks"]
    assert check["by_mm"] == pytest.approx(0.2)
    assert check["limits"] == {"low": 14.4, "high": 14.6}
    assert check["value"]["value"] == pytest.approx(14.2333, abs=1e-3)


def test_all_measures_are_taken(tmp_path):
    done = run(
        "wheels", "--gauge-mm", "9", "--back-to-back", "7.5", "--flange-height", "0.8",
        "--flange-thickness", "0.55", "--tyre-width", "2.1", "--check-gauge", "8.0", "--json",
    )  # fmt: skip
    answer = json.loads(done.stdout)
    assert answer["verdict"] == "in"
    assert len(answer["checks"]) == 5


@pytest.mark.parametrize(
    "arguments",
    [
        ["wheels", "--gauge-mm", "17.3", "--back-to-back", "14.2"],
        ["wheels", "--gauge-mm", "16.5"],
        ["wheels", "--gauge-mm", "16.5", "--back-to-back", "abc"],
        ["wheels", "--standard", "X", "--gauge-mm", "16.5", "--back-to-back", "14.2"],
        ["rolling"],
        ["pull"],
        ["size", "--scale", "H0"],
        ["size", "--scale", "nix", "--pair", "length=1/2"],
        ["size", "--scale", "H0", "--pair", "length"],
        ["reverser", "--pull-in-v", "230"],
    ],
)
def test_bad_input_ends_in_our_own_error(arguments):
    assert isinstance(run(*arguments).exception, OutshopError)


def test_the_other_gauges_answer_in_json():
    rolling = json.loads(run("rolling", "--tilt-deg", "1.2,1.3,1.1", "--json").stdout)
    assert rolling["rolling"]["value"] == pytest.approx(20.9, abs=0.1)
    pull = json.loads(
        run("pull", "--weights-g", "75,75,75", "--driven-mass-g", "300", "--json").stdout
    )
    assert pull["adhesion"]["value"] == pytest.approx(25)
    size = json.loads(run("size", "--scale", "H0", "--pair", "length=264/26400", "--json").stdout)
    assert size["proportions"][0]["meaning"] == "deliberate compromise"
    unit = json.loads(run("reverser", "--pull-in-v", "15", "--json").stdout)
    assert unit["findings"] == ["early"]
