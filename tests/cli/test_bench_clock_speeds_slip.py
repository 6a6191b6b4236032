"""``outshop bench clock``, ``bench speeds`` and ``bench slip``: plain JSON, clear sentences."""

import json
import math
import subprocess
import sys

import pytest
from typer.testing import CliRunner

from outshop.cli.main import build_app
from outshop.errors import OutshopError
from outshop.estimate import Estimate

RUNS = "clock,way_mm,time_s,laps\nstop-watch,1000,5.02,\nstop-watch,1000,5.06,\ngates,500,2.5,\n"
TABLE = "setting,unit,direction,sweep,speed_m_s\n" + "".join(
    f"{s},V,forward,{sweep},{max(0.0, 0.045 * (s - stands)):.4f}\n"
    for sweep, stands in (("up", 2.5), ("down", 1.5))
    for s in range(1, 13)
)


def outshop(*words):
    return CliRunner().invoke(build_app(), ["bench", *map(str, words)])


def document(*words):
    done = outshop(*words, "--json")
    assert done.exit_code == 0, done.output
    return json.loads(done.stdout)


@pytest.fixture(name="kept")
def _kept(tmp_path):
    """Files of one run: two tables, a sound's JSON and a clip's JSON."""
    heard = {
        "motor_speed": Estimate.plus_minus(60, 0.2, "1/s").as_json(),
        "wheel_speed": Estimate.plus_minus(4, 0.013, "1/s").as_json(),
        "motor_speed_status": "confident",
        "lap_time": Estimate.plus_minus(10, 0.1, "s").as_json(),
        "drive": {"wheel_diameter_mm": 16, "ratio": 15},
    }
    rim = 4 * math.pi * 0.016
    seen = {"speed": Estimate.plus_minus(0.9 * rim, 0.001, "m/s").as_json()}
    texts = {
        "runs.csv": RUNS,
        "speeds.csv": TABLE,
        "sound.json": json.dumps(heard),
        "clip.json": json.dumps(seen),
        "list.json": "[]",
    }
    for name, text in texts.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    return tmp_path


def test_clocks_of_a_table_stand_together(kept):
    found = document("clock", kept / "runs.csv", "--scale", "H0")
    assert [c["kind"] for c in found["clocks"]] == ["stop-watch", "gates"]
    assert found["agree"] is True
    assert found["speed"]["unit"] == "m/s"
    # NEM 010: H0 is 1:87
    assert found["scale_speed"]["value"] == pytest.approx(found["speed"]["value"] * 87 * 3.6)


def test_typed_times_a_clip_and_the_laps_heard_stand_together(kept):
    found = document(
        "clock", "--way-mm", "1000", "--seconds", "5,52; 5,50", "--clip", kept / "clip.json",
        "--sound", kept / "sound.json", "--loop-mm", "1810",
    )  # fmt: skip
    assert [c["kind"] for c in found["clocks"]] == ["stop-watch", "sound", "clip"]
    assert found["clocks"][1]["speed"]["value"] == pytest.approx(0.181)
    assert found["agree"] is True


def test_clocks_for_a_person(kept):
    done = outshop("clock", kept / "runs.csv")
    assert done.exit_code == 0
    assert "gates over 500 mm" in done.stdout
    assert "together" in done.stdout


def test_a_speed_table_and_the_norms_verdict(kept):
    found = document(
        "speeds", kept / "speeds.csv", "--scale", "H0", "--full-size-km-h", "120", "--nominal", "12"
    )
    assert found["start_forward"]["value"] == 2.5
    assert found["drop_out_forward"]["value"] == 1.5
    assert found["top_forward"]["value"] == pytest.approx(0.045 * 10, rel=1e-3)
    # NEM 661 (2011): H0 up to 30 % above; 0.45 m/s x 87 x 3.6 = 141 km/h
    assert found["top_speed_verdict"]["verdict"] == "within"
    assert found["top_speed_verdict"]["high_km_h"] == pytest.approx(156)


def test_a_speed_table_against_the_one_before(kept):
    found = document("speeds", kept / "speeds.csv", "--before", kept / "speeds.csv")
    assert found["comparison"]["verdict"] == "no_provable_change"
    done = outshop("speeds", kept / "speeds.csv", "--before", kept / "speeds.csv")
    assert "no provable change" in done.stdout


def test_slip_of_sound_against_clip(kept):
    found = document("slip", "--sound", kept / "sound.json", "--track", kept / "clip.json")
    assert found["slip"]["value"] == pytest.approx(10)
    assert found["verdict"] == "slips"
    assert found["ratio"]["value"] is None


def test_the_ratio_when_nothing_slips(kept):
    words = ("slip", "--sound", kept / "sound.json", "--track", kept / "clip.json", "--rolling")
    found = document(*words)
    assert found["ratio"]["value"] == pytest.approx(15 / 0.9)
    assert any("does not fit" in s for s in found["says"])
    assert "ratio" in outshop(*words).stdout


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("clock",), "give a table of runs"),
        (("clock", "{}/none.csv"), "there is no file"),
        (("clock", "--way-mm", "0", "--seconds", "5"), "way of 0 mm"),
        (("clock", "--way-mm", "100", "--seconds", "soon"), "no number"),
        (("clock", "--way-mm", "100", "--seconds", "5", "--by", "sundial"), "no clock"),
        (("clock", "--clip", "{}/list.json"), "not what 'bench motion --json' prints"),
        (("clock", "--clip", "{}/runs.csv"), "no JSON"),
        (("speeds", "{}/runs.csv"), "the header needs setting"),
        (("speeds", "{}/speeds.csv", "--scale", "H0", "--full-size-km-h", "0"), "top speed of 0"),
        (("slip", "--sound", "{}/clip.json", "--track", "{}/clip.json"), "diameter is not known"),
        (("slip", "--sound", "{}/sound.json", "--track", "{}/sound.json"), "no speed"),
    ],
)
def test_each_fault_of_the_input_is_a_sentence(kept, words, says):
    done = outshop(*(w.format(kept) for w in words))
    assert isinstance(done.exception, OutshopError), done.output
    assert says in str(done.exception)


@pytest.mark.parametrize(
    "words", [("clock", "--way-mm", "100"), ("clock", "--loop-mm", "100"), ("slip",), ("speeds",)]
)
def test_half_a_command_is_wrong_usage(words):
    assert outshop(*words).exit_code == 2


def test_the_real_command_line_ends_with_1_and_a_sentence():
    words = ["bench", "clock", "--way-mm", "-5", "--seconds", "3"]
    done = subprocess.run(
        [sys.executable, "-m", "outshop", *words], capture_output=True, text=True, timeout=60
    )
    assert done.returncode == 1
    assert done.stderr.startswith("outshop: a way of -5 mm")
    assert "Traceback" not in done.stderr
