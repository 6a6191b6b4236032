"""``outshop formation``: the JSON shape, several trains, own recipes, no train."""

import json

import pytest
from typer.testing import CliRunner

from outshop.cli.main import build_app
from outshop.errors import OutshopError

HEAD = """
year = 1958
loop_mm = 600
[[line]]
length_mm = 2000
grade_permille = 10
[locomotive]
length_mm = 120
mass_g = 300
pull_g = 20
couplings = ["loop", "loop"]
"""
VEHICLE = """
[[vehicle]]
name = "{name}"
kind = "{kind}"
years = "1948/1970"
length_mm = {length}
mass_g = 60
rolling_permille = 20
couplings = ["loop", "loop"]
"""
SHELF = "".join(
    VEHICLE.format(name=f"{kind} {i}", kind=kind, length=100 + 10 * i)
    for i, kind in enumerate(("coach-2", "luggage", "coach-2", "covered", "coach-1", "open"))
)


def run(tmp_path, text, *options):
    path = tmp_path / "scene.toml"
    path.write_text(text, encoding="utf-8")
    return CliRunner().invoke(build_app(), ["formation", str(path), *options])


def test_longest_train_in_json(tmp_path):
    done = run(tmp_path, HEAD + SHELF, "--aim", "longest", "--json")
    answer = json.loads(done.stdout)
    assert answer["proven_best"] is True
    assert answer["infeasible"] is None
    train = answer["trains"][0]
    # four vehicles of 100 to 150 mm in 480 mm: the longest choice is 480 mm
    assert len(train["vehicles"]) == 4
    assert train["length_mm"] == 600
    assert train["needed_g"] <= 20
    assert set(train) >= {"margin_percent", "believable", "score"}


def test_several_trains_all_differ(tmp_path):
    done = run(tmp_path, HEAD + SHELF, "--count", "3", "--json")
    trains = [frozenset(t["vehicles"]) for t in json.loads(done.stdout)["trains"]]
    assert len(trains) == len(set(trains)) == 3


def test_recipe_keeps_the_luggage_van_at_an_end_and_wagons_out(tmp_path):
    text = 'train = "branch-passenger"\n' + HEAD + SHELF
    done = run(tmp_path, text, "--aim", "believable", "--json")
    train = json.loads(done.stdout)["trains"][0]
    kinds = [name.rsplit(" ", 1)[0] for name in train["vehicles"]]
    assert "luggage" in (kinds[0], kinds[-1])
    assert not {"covered", "open"} & set(kinds)
    assert all({"rule", "strength", "met", "why"} <= set(rule) for rule in train["believable"])


def test_no_train_is_an_answer_with_reasons(tmp_path):
    done = run(tmp_path, HEAD.replace("1958", "1890") + SHELF, "--json")
    answer = json.loads(done.stdout)
    assert done.exit_code == 0
    assert answer["trains"] == []
    assert answer["infeasible"]["why"]
    assert answer["infeasible"]["smallest_fix"]


def test_own_recipe_from_a_folder(tmp_path):
    folder = tmp_path / "recipes"
    folder.mkdir()
    (folder / "two.toml").write_text(
        'id = "two"\nname = "two vans"\n[[rule]]\nid = "two"\ntest = "count"\n'
        'select = ["any"]\nmax = 2\nstrength = "forbidden"\nwhy = "only two"\nsource = "mine"\n',
        encoding="utf-8",
    )
    text = 'train = "two"\n' + HEAD + SHELF
    done = run(tmp_path, text, "--recipes", str(folder), "--json")
    assert len(json.loads(done.stdout)["trains"][0]["vehicles"]) == 2


def test_unknown_aim_is_refused_with_a_sentence(tmp_path):
    with pytest.raises(OutshopError, match="aim 'fastest' is unknown"):
        raise run(tmp_path, HEAD + SHELF, "--aim", "fastest").exception


def test_person_reads_the_train(tmp_path):
    done = run(tmp_path, HEAD + SHELF)
    assert done.stdout.startswith("train 1")
    assert "proven best" in done.stdout


def test_missing_kinds_are_ranked(tmp_path):
    shelf = VEHICLE.format(name="open 1", kind="open", length=100)
    text = 'train = "gb-unfitted-goods"\n' + HEAD + shelf
    done = run(tmp_path, text, "--aim", "believable", "--missing", "--seconds", "3", "--json")
    assert json.loads(done.stdout)["missing"][0]["kind"] == "brake-van"


def test_timetable_of_two_scenes_shares_no_vehicle(tmp_path):
    second = tmp_path / "second.toml"
    second.write_text(HEAD + SHELF, encoding="utf-8")
    done = run(tmp_path, HEAD + SHELF, "--aim", "longest", "--also", str(second), "--json")
    trains = json.loads(done.stdout)["timetable"]
    names = [n for train in trains for n in train["vehicles"]]
    assert all(trains)
    assert len(names) == len(set(names))
