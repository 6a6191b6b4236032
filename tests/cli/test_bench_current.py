"""``outshop bench current`` on files as loggers write them."""

import json

import numpy as np
import pytest
from typer.testing import CliRunner

from outshop.cli.main import build_app
from outshop.errors import OutshopError


def run(*arguments):
    return CliRunner().invoke(build_app(), ["bench", "current", *map(str, arguments)])


@pytest.fixture(name="log")
def _log(tmp_path):
    """Off 1 s, running 4 s at 0.35 A with a start from 1.2 A, off 1 s; semicolons, commas, mA."""
    rng = np.random.default_rng(0)
    t = np.arange(6000) / 1000
    on = (t >= 1) & (t < 5)
    current = np.where(on, 0.35 + 0.85 * np.exp(-(t - 1) / 0.08), 0)
    current += 0.003 * rng.standard_normal(t.size)
    rows = [
        f"{a:.3f};{1000 * b:.1f};{12.0:.1f}".replace(".", ",")
        for a, b in zip(t, current, strict=True)
    ]
    path = tmp_path / "log.csv"
    path.write_text("\n".join(["Zeit [s];Strom [mA];Spannung [V]", *rows]))
    return path


def test_json_has_the_promised_shape(log):
    done = run(log, "--json")
    answer = json.loads(done.stdout)
    assert [p["state"] for p in answer["phases"]] == ["off", "starting", "running", "off"]
    assert answer["running_current"]["value"] == pytest.approx(0.35, rel=0.01)
    assert answer["starting_peak"]["value"] == pytest.approx(1.2, rel=0.03)
    assert answer["ripple_frequency"]["value"] is None
    assert answer["voltage"]["value"] == pytest.approx(12)


def test_the_table_for_a_person_names_each_phase(log):
    out = run(log).stdout
    assert "starting" in out
    assert "running current" in out


def test_bad_logs_end_in_our_own_error(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text("0,0.3\n1,0.3\n")
    done = run(path)
    assert isinstance(done.exception, OutshopError)
    assert "header" in str(done.exception)
    assert isinstance(run(tmp_path / "none.csv").exception, OutshopError)
