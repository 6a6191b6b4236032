"""A simulated run heard by the sound bench and timed on its track: the truth comes out."""

import pytest

from outshop.bench.motion.clocks import Kind, Timing, clocked
from outshop.bench.motion.run import run_slip
from outshop.bench.sound import measure_file, read_drive
from outshop.rig.locomotive import Locomotive
from outshop.rig.programme import Phase, drive
from outshop.rig.sound import record

DRIVE = """
wheel_diameter_mm = 16.1
armature_poles = 3
[[stages]]
driver_teeth = 12
driven_teeth = 54
[[stages]]
driver_teeth = 14
driven_teeth = 42
"""
SPEED = 0.45 * (0.45 - 0.12) / (1 - 0.12)  # m/s of the simulated wheels at this setting
RATIO = 54 / 12 * 42 / 14


@pytest.fixture(name="heard", scope="module")
def _heard(tmp_path_factory):
    path = tmp_path_factory.mktemp("run") / "run.wav"
    run = drive(Locomotive(), (Phase(2, 0), Phase(10, 0.45), Phase(2, 0)), 3)
    path.write_bytes(record(run, seed=4).wav())
    return measure_file(path, read_drive(DRIVE), None).as_json()


def gates(slip_share):
    """Two gates half a metre apart, the model slower over the track by the slip."""
    seconds = 0.5 / (SPEED * (1 - slip_share))
    return clocked(Timing(Kind.GATES, 500, (seconds,))).speed


@pytest.mark.parametrize("share", [0.0, 0.1, 0.4])
def test_the_slip_of_the_run_is_found(heard, share):
    found = run_slip(heard, gates(share))
    assert found.bench.slip.low <= 100 * share <= found.bench.slip.high
    assert found.bench.slip.half_width < 1.5
    assert found.bench.verdict == ("slips" if share else "no_provable_slip")


def test_the_true_ratio_is_found_and_the_counted_teeth_fit_it(heard):
    found = run_slip(heard, gates(0.0), rolling=True)
    assert found.bench.ratio.low <= RATIO <= found.bench.ratio.high
    assert found.bench.fits.nearest[0].written == "12:54, 14:42"


def test_a_wheel_entered_too_small_shows_as_negative_slip_with_the_true_wheel(heard):
    found = run_slip(heard, gates(0.0), wheel_mm=15.0)
    assert found.bench.verdict == "negative"
    rolls = found.bench.rolling_diameter
    assert rolls.low <= 16.1 <= rolls.high
