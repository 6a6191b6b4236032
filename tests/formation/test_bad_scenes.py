"""``outshop formation`` with a scene at fault: one clear sentence, never a traceback."""

import json

import pytest
from typer.testing import CliRunner

from outshop.cli.main import build_app
from outshop.formation.compose import compose

from .scenes import scene, vehicle
from .test_reading import GOOD

RUN = CliRunner()

FAULTS = [
    ("[[line]]", "[[track]]", "no sections"),
    ("radius_mm = 437", "radius_mm = 5", "radius of 5 mm"),
    ("grade_permille = 25", "grade_permille = 400", "400 per mille"),
    ("grade_permille = 25", "grade_permille = nan", "not a number"),
    ("mass_g = 60", "", "no mass_g"),
    ("mass_g = 60", "mass_g = -60", "mass_g = -60 cannot be"),
    ("length_mm = 110", "length_mm = -110", "length_mm = -110 cannot be"),
    ("length_mm = 110", "length_mm = inf", "not a number"),
    ('["loop", "hook"]', '["unknown", "hook"]', "couplings of 'van 2' are unknown"),
    ('couplings = ["loop", "loop"]\nyears', "years", "rear coupling is unknown"),
    ("year = 1958", 'year = 1958\nfixed = ["van 1"]\nforbidden = ["van 1"]', "both fixed"),
    ("year = 1958", 'year = 1958\nfixed = "van 1"', "list of names"),
    ('name = "van 2"', 'name = "van 1"', "two vehicles are called"),
    ("loop_mm = 1400", "loop_mm = 0", "above 0"),
    ("year = 1958", 'year = 1958\ntrain = "circus"', "no recipe 'circus'"),
    ("pull_g = 30", 'pull_g = "strong"', "not a number"),
    ("pull_g = 30", "pull_g = 0", "pull_g = 0 cannot be"),
    ("mass_g = 70", "mass_g = 70\nlivery = 3", "must be a text"),
    ("mass_g = 70", 'mass_g = 70\npool = "yes"', "must be true or false"),
]


def asked(folder, text, *more):
    path = folder / "scene.toml"
    path.write_text(text, encoding="utf-8")
    return RUN.invoke(build_app(), ["formation", str(path), "--seconds", "1", *more])


@pytest.mark.parametrize(("old", "new", "sentence"), FAULTS)
def test_fault_is_told_in_a_sentence(tmp_path, old, new, sentence):
    assert old in GOOD
    result = asked(tmp_path, GOOD.replace(old, new))
    told = " ".join((result.output + str(result.exception or "")).split())
    assert result.exit_code != 0
    assert sentence in told
    assert "Traceback" not in told


IMPOSSIBLE = [
    ("year = 1958", "year = 1800", "not in 1800"),
    ("mass_g = 300", "mass_g = 30000", "cannot climb section 2 alone"),
    ("year = 1958", 'year = 1958\ntrain = "express"', "does not run in"),
    ("loop_mm = 1400", "loop_mm = 100", "the locomotive alone"),
]


@pytest.mark.parametrize(("old", "new", "sentence"), IMPOSSIBLE)
def test_no_train_is_told_with_why(tmp_path, old, new, sentence):
    result = asked(tmp_path, GOOD.replace(old, new), "--json")
    answer = json.loads(result.stdout)
    assert answer["trains"] == []
    assert any(sentence in why for why in answer["infeasible"]["why"])
    assert answer["infeasible"]["smallest_fix"]


def test_large_shelf_too_heavy_for_the_engine_is_told_without_false_certainty(tmp_path):
    head, first, _ = GOOD.partition("[[vehicle]]")
    van = first + GOOD.partition("[[vehicle]]")[2].partition("[[vehicle]]")[0]
    heavy = van.replace("mass_g = 60", "mass_g = 900")
    shelf = "".join(heavy.replace("van 1", f"van {i}") for i in range(14))
    answer = json.loads(asked(tmp_path, head + shelf, "--json").stdout)
    told = answer["infeasible"]
    assert answer["trains"] == []
    assert answer["proven_best"] is told["proven"]
    if told["proven"]:
        assert told["why"] == ["the train must haul with 30 g of pull"]
    else:
        assert "not proven" in told["why"][0]


def test_fixed_vehicles_of_a_large_shelf_too_long_together_are_told_at_once():
    shelf = [vehicle(f"v{i}", 100.0 + i) for i in range(40)]
    asked_for = scene([], shelf, loop_mm=450, fixed=("v1", "v5", "v9", "v3"))
    why = compose(asked_for).infeasible
    assert why.proven
    # engine 120: 330 left, and 109 + 105 + 103 fit while all four do not
    assert why.why[0] == "the loops take 450 mm"
    assert len(why.why) == 5
    assert why.smallest_fix[0] == "a loop of 538 mm"
    assert "leave 'v9' free" in why.smallest_fix


def test_fixed_vehicles_that_roll_too_heavily_are_told_at_once():
    shelf = [vehicle(f"v{i}", mass=100.0, rolling=40.0) for i in range(40)]
    why = compose(scene([], shelf, pull=11.0, loop_mm=900, fixed=("v1", "v2", "v3"))).infeasible
    assert why.why == (
        "the train must haul with 11 g of pull",
        "'v1' is fixed",
        "'v2' is fixed",
        "'v3' is fixed",
    )
    assert why.smallest_fix[0].startswith("a pull of more than 12 g")


def test_empty_shelf_is_told(tmp_path):
    answer = json.loads(asked(tmp_path, GOOD[: GOOD.index("[[vehicle]]")], "--json").stdout)
    assert answer["infeasible"]["why"] == ["there are no vehicles on the shelf"]


def test_unknown_aim_is_told(tmp_path):
    result = asked(tmp_path, GOOD, "--aim", "heaviest")
    assert result.exit_code != 0
    assert "the aim 'heaviest' is unknown" in result.output + str(result.exception)


def test_bound_and_gap_stand_beside_the_proof(tmp_path):
    answer = json.loads(asked(tmp_path, GOOD, "--json").stdout)
    assert answer["proven_best"] is True
    assert answer["gap"] == {"vehicles": 0.0, "length_mm": 0.0}
