"""``outshop bench motor`` on points files."""

import json

import pytest
from typer.testing import CliRunner

from outshop.cli.main import build_app
from outshop.errors import OutshopError

POINTS = "voltage_v,current_a,rev_per_s\n12,0.12,171.9\n8,0.12,108.2\n6,0.6,0\n5,0.5,0\n4,0.4,0\n"


def run(*arguments):
    return CliRunner().invoke(build_app(), ["bench", "motor", *map(str, arguments)])


def test_json_has_the_promised_shape(tmp_path):
    path = tmp_path / "points.csv"
    path.write_text(POINTS)
    answer = json.loads(run(path, "--json").stdout)
    assert answer["resistance"]["value"] == pytest.approx(10, rel=1e-3)
    assert answer["resistance"]["unit"] == "ohm"
    assert answer["constant"]["value"] == pytest.approx(0.01, rel=2e-3)
    assert answer["constant"]["unit"] == "V·s/rad"
    assert answer["friction_torque"]["value"] == pytest.approx(1.2, rel=2e-3)
    assert answer["friction_torque"]["unit"] == "mN·m"
    assert answer["no_load_speed"]["value"] == pytest.approx(171.9, rel=2e-3)
    assert answer["stall_current"]["value"] == pytest.approx(1.2, rel=2e-3)
    assert all(isinstance(v, str) for v in answer["verdict"])


def test_a_twin_names_the_fault(tmp_path):
    path, twin = tmp_path / "points.csv", tmp_path / "twin.csv"
    twin.write_text(POINTS)
    path.write_text(POINTS.replace("0.12,171.9", "0.24,152.8").replace("0.12,108.2", "0.24,89.1"))
    answer = json.loads(run(path, "--twin", twin, "--json").stdout)
    assert "friction-up" in answer["findings"]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("12,0.1,170\n", "header"),
        ("voltage_v,current_a,rev_per_s\n12,0.1,170\n12,0.1,170\n", "equal"),
        ("voltage_v,current_a,rev_per_s\n12,3,170\n6,0.6,0\n", "point 1"),
        ("voltage_v,current_a\n12,3\n", "speed"),
    ],
)
def test_bad_points_end_in_our_own_error(tmp_path, text, says):
    path = tmp_path / "points.csv"
    path.write_text(text)
    done = run(path)
    assert isinstance(done.exception, OutshopError)
    assert says in str(done.exception)


def test_a_missing_stall_point_leaves_gaps_with_the_reason(tmp_path):
    path = tmp_path / "points.csv"
    path.write_text("voltage_v,current_a,rev_per_s\n12,0.12,171.9\n8,0.12,108.2\n")
    answer = json.loads(run(path, "--json").stdout)
    assert answer["resistance"]["value"] is None
    assert "held" in answer["resistance"]["reason"]
