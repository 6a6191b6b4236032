"""``outshop haul``: the JSON shape, the exit codes, and a clear sentence for bad input."""

import json

import pytest
from typer.testing import CliRunner

from outshop.cli.main import build_app
from outshop.errors import OutshopError

SCENE = """
[[line]]
length_mm = 2000
grade_permille = 30
radius_mm = 508
[locomotive]
length_mm = 120
mass_g = 300
pull_g = 20
couplings = ["loop", "loop"]
[[vehicle]]
name = "van"
length_mm = 100
mass_g = 100
rolling_permille = 20
couplings = ["loop", "loop"]
"""


def run(tmp_path, text, *options):
    path = tmp_path / "scene.toml"
    path.write_text(text, encoding="utf-8")
    return CliRunner().invoke(build_app(), ["haul", str(path), *options])


def test_json_has_the_contract_keys_and_the_worked_figure(tmp_path):
    done = run(tmp_path, SCENE, "--json")
    assert done.exit_code == 0
    answer = json.loads(done.stdout)
    # 300 x 30 + 100 x (20 + 30 + 10 x 32 / 20 inch), per mille
    assert answer["needed_g"] == pytest.approx(9 + 6.6)
    assert answer["available_g"] == 20
    assert answer["margin_percent"] == pytest.approx(22)
    assert answer["verdict"] == "hauls"
    assert answer["length_mm"] == 220
    assert answer["worst"]["section"] == 1
    assert 220 <= answer["worst"]["head_mm"] <= 2000


def test_person_reads_the_verdict_first(tmp_path):
    done = run(tmp_path, SCENE)
    assert done.stdout.startswith("verdict")
    assert "hauls" in done.stdout.splitlines()[0]


def test_engine_that_cannot_climb_alone_is_told_on_the_side(tmp_path):
    done = run(tmp_path, SCENE.replace("mass_g = 300", "mass_g = 900"), "--json")
    assert json.loads(done.stdout)["verdict"] == "stalls"
    assert "cannot even climb alone" in done.stderr


def test_line_without_sections_is_refused_with_a_sentence(tmp_path):
    with pytest.raises(OutshopError, match="no sections"):
        raise run(tmp_path, SCENE.replace("[[line]]", "[[rails]]")).exception
