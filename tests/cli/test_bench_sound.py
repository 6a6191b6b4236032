"""``bench sound`` and ``bench compare`` on real files, through the command tree."""

import json
import wave

import numpy as np
import pytest
from typer.testing import CliRunner

from outshop.cli.main import build_app
from outshop.errors import InputError

KEYS = {
    "duration_s", "sample_rate_hz", "sha256", "runs", "level", "background", "motor_speed",
    "wheel_speed", "scale_speed", "motor_speed_status", "alternatives", "orders",
    "wheel_turn_modulation", "lap_time", "warnings",
}  # fmt: skip


@pytest.fixture(name="recording")
def _recording(tmp_path, rng):
    def write(name, loud):
        quiet = 0.001 * rng.standard_normal(3 * 16_000)
        run = loud * rng.standard_normal(5 * 16_000)
        samples = np.concatenate([quiet, run, quiet])
        path = tmp_path / name
        with wave.open(str(path), "wb") as file:
            file.setparams((1, 2, 16_000, 0, "NONE", ""))
            file.writeframes((samples * 32767).astype("<i2").tobytes())
        return path

    return write


def run(*arguments):
    return CliRunner().invoke(build_app(), [str(a) for a in arguments])


def test_sound_prints_the_contract_and_nothing_else(recording):
    result = run("bench", "sound", recording("a.wav", 0.02), "--full-scale-db", "100", "--json")
    assert result.exit_code == 0
    shape = json.loads(result.stdout)
    assert set(shape) >= KEYS
    assert [r["state"] for r in shape["runs"]] == ["still", "running", "still"]
    assert shape["level"]["unit"] == "dB(A)"
    assert shape["motor_speed"]["value"] is None
    assert shape["motor_speed_status"] == "not_found"


def test_sound_speaks_to_a_person_too(recording):
    result = run("bench", "sound", recording("a.wav", 0.02))
    assert result.exit_code == 0
    assert "running" in result.stdout


def test_compare_prints_rows_and_a_verdict(recording):
    before, after = recording("a.wav", 0.02), recording("b.wav", 0.02)
    result = run("bench", "compare", before, after, "--json")
    shape = json.loads(result.stdout)
    assert shape["verdict"] == "no_provable_change"
    assert {"quantity", "before", "after", "change", "verdict", "reason"} <= set(shape["rows"][0])
    assert run("bench", "compare", before, after).exit_code == 0


@pytest.mark.parametrize(
    ("text", "word"), [("wheel_diameter_mm = 0", "wheel_diameter_mm"), ("wheels = 3", "wheels")]
)
def test_a_bad_drive_is_named(recording, tmp_path, text, word):
    drive = tmp_path / "drive.toml"
    drive.write_text(text, encoding="utf-8")
    result = run("bench", "sound", recording("a.wav", 0.02), "--drive", drive)
    assert isinstance(result.exception, InputError)
    assert word in str(result.exception)


def test_a_missing_file_is_a_sentence(tmp_path):
    result = run("bench", "sound", tmp_path / "none.wav")
    assert isinstance(result.exception, InputError)


def test_text_that_calls_itself_sound_is_refused(tmp_path):
    path = tmp_path / "a.wav"
    path.write_text("this is no sound", encoding="utf-8")
    assert isinstance(run("bench", "sound", path).exception, InputError)
