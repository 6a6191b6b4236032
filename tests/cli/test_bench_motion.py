"""``outshop bench motion``: one JSON document, clear sentences, the contract's keys."""

import json
import subprocess
import sys

import pytest

from outshop.rig.clip import Camera, film
from outshop.rig.locomotive import Locomotive
from outshop.rig.programme import Phase, drive


def outshop(*words):
    command = [sys.executable, "-m", "outshop", "bench", "motion", *map(str, words)]
    return subprocess.run(command, capture_output=True, text=True, timeout=120)


@pytest.fixture(name="clip", scope="module")
def _clip(tmp_path_factory):
    path = tmp_path_factory.mktemp("clip") / "run.mp4"
    run = drive(Locomotive(), (Phase(0.6, 0), Phase(3.6, 0.4), Phase(1.0, 0)), 1)
    film(run, path, Camera(width=640, height=360, pixels_per_mm=0.9, start_mm=-270, noise=1))
    return path


def test_json_holds_the_contracts_keys(clip):
    done = outshop(clip, "--length-mm", 118, "--scale", 87, "--json")
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    # told 0.4: (0.4 - 0.12) / (1 - 0.12) of 0.45 m/s
    assert found["speed"]["value"] == pytest.approx(0.45 * 0.28 / 0.88, rel=0.02)
    assert found["speed"]["unit"] == "m/s"
    assert found["scale_speed"]["value"] == pytest.approx(found["speed"]["value"] * 87 * 3.6)
    assert found["scale_speed"]["unit"] == "km/h"
    assert found["direction"] == "left_to_right"
    assert set(found["track"][0]) >= {"t_s", "x_mm", "v_m_s"}
    assert found["start_s"] == pytest.approx(0.75, abs=0.1)
    assert {"stop_s", "speed_ripple", "coasting_mm", "warnings"} <= set(found)


def test_marks_and_a_table_for_a_person(clip):
    done = outshop(clip, "--marks", "100,250,460,250,400")
    assert done.returncode == 0, done.stderr
    assert "left to right" in done.stdout
    assert "m/s" in done.stdout


def test_a_ruler_is_needed_and_only_one(clip):
    assert outshop(clip).returncode == 2
    assert outshop(clip, "--length-mm", 118, "--marks", "1,2,3,4,5").returncode == 2


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--length-mm", "0"), "cannot serve as a ruler"),
        (("--marks", "1,2,3"), "x1,y1,x2,y2,MM"),
        (("--marks", "10,10,9000,10,100"), "outside the picture"),
    ],
)
def test_a_wrong_ruler_is_one_sentence(clip, words, says):
    done = outshop(clip, *words, "--json")
    assert done.returncode == 1
    assert done.stdout == ""
    assert says in done.stderr
    assert "Traceback" not in done.stderr


def test_text_renamed_is_one_sentence(tmp_path):
    (tmp_path / "clip.mp4").write_text("only text\n" * 50)
    done = outshop(tmp_path / "clip.mp4", "--length-mm", 118)
    assert done.returncode == 1
    assert "plain text" in done.stderr
