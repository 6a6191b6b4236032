"""Drive files: what is read, and which sentences bad ones get."""

import pytest

from outshop.bench.sound import Drive, Stage, read_drive
from outshop.bench.sound.drive import commutation_order
from outshop.bench.sound.names import named_orders, shaft_orders
from outshop.errors import TableError

WHOLE = """
scale = 87
wheel_diameter_mm = 16.1
armature_poles = 3
[[stages]]
driver_teeth = 12
driven_teeth = 54
"""


def test_a_whole_drive_is_read():
    drive = read_drive(WHOLE)
    assert drive == Drive(3, (Stage(12, 54),), 4.5, 16.1, 87.0)


def test_nothing_known_is_a_drive_too():
    assert not read_drive("").knows_motor


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[[stages]]\ndriver_teeth = 0\ndriven_teeth = 20", "stage 1.*driver_teeth.*got 0"),
        ("[[stages]]\ndriver_teeth = 12\ndriven_teeth = -3", "driven_teeth.*got -3"),
        ("[[stages]]\ndriver_teeth = 12.5\ndriven_teeth = 30", "whole number.*12.5"),
        ("[[stages]]\ndriver_teeth = 12", "lacks driven_teeth"),
        ("[[stages]]\ndriver_teeth = 12\ndriven_teeth = 30\nteeth = 2", "unknown keys teeth"),
        ("wheel_diameter_mm = 0", "wheel_diameter_mm must be above 0"),
        ("wheel_diameter_mm = -16", "wheel_diameter_mm.*-16"),
        ("wheel_diameter_mm = nan", "wheel_diameter_mm must be a number"),
        ("armature_poles = 'three'", "armature_poles must be a number.*three"),
        ("armature_poles = 1", "armature_poles must be a whole number from 2"),
        ("armature_poles = true", "armature_poles must be a number"),
        ("scale = -87", "scale must be above 0"),
        ("scale = 'Q7'", "scale"),
        ("colour = 'red'", "unknown keys colour: known are"),
        ("wheel_diameter = 16", r"did you mean wheel_diameter_mm\?.*known are"),
        ("[[stages]]\ndriven = 3", r"stage 1 has unknown keys driven \(did you mean driven_teeth"),
        ("ratio = 0", "ratio must be above 0"),
        ("ratio = inf", "ratio must be a number"),
        ("[[stages]]\ndriver_teeth = 12\ndriven_teeth = nan", "driven_teeth must be a number"),
        ("ratio = 20\n" + WHOLE, "ratio 20 contradicts the stages.*4.5"),
        ("stages = 3", "stages must be a list"),
        ("stages = [3]", "stage 1 must be a table"),
        ("scale = ", "no TOML"),
    ],
)
def test_a_bad_drive_gets_a_clear_sentence(text, words):
    with pytest.raises(TableError, match=words):
        read_drive(text)


def test_a_ratio_may_be_rounded():
    assert read_drive("ratio = 4.52\n" + WHOLE).ratio == 4.5


def test_a_scale_may_be_named():
    assert read_drive("scale = 'H0'").scale == 87.0


@pytest.mark.parametrize(("poles", "events"), [(3, 6), (5, 10), (7, 14), (9, 18), (8, 8), (12, 12)])
def test_commutation_comes_twice_per_segment_only_for_odd_numbers(poles, events):
    """Odd: Precision Microdrives (3 poles: six a turn), catalogue D757 (5 segments: ten)."""
    assert commutation_order(poles) == events


def test_mesh_of_a_worked_example():
    """A single-start worm 1:20 on a motor at 169.4 turns/s meshes at 169.4 Hz (by hand)."""
    orders = {o.name: o.order for o in named_orders(Drive(5, (Stage(1, 20),)))}
    assert orders["commutation (10 per turn)"] * 169.4 == pytest.approx(1694)
    assert dict(shaft_orders(Drive(5, (Stage(1, 20),))))["wheel"] == 1 / 20


def test_both_wheels_of_a_mesh_give_one_order():
    """z1 n1 = z2 n2: an idler adds no new tone."""
    orders = [o.order for o in named_orders(Drive(None, (Stage(12, 30), Stage(30, 48))))]
    assert sorted(orders) == [1, 2, 12, 24, 36]


def test_scale_speed_of_a_worked_example():
    """100 km/h in 1:87 on 12 mm wheels, 20:1: motor at 169.4 turns/s (by hand)."""
    drive = Drive(5, (Stage(1, 20),), 20.0, 12.0, 87.0)
    assert 169.4 * drive.kmh_per_motor_rate() == pytest.approx(100, abs=0.05)


def test_a_drive_survives_its_json():
    from outshop.bench.sound import drive_from_table

    drive = read_drive(WHOLE)
    assert drive_from_table(drive.as_json()) == drive
