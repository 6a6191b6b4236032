"""Before and after: verdicts on known changes, and when there can be none."""

from dataclasses import replace

import numpy as np
import pytest

from outshop.bench.compare import compare, find_footing
from outshop.bench.sound import Run, SoundBench, measure_samples
from outshop.bench.sound.measure import measure_file
from outshop.estimate import Estimate, NotMeasurable

RATE = 22_050


def sheet(level=-40.0, half=0.4, background=-60.0, tilt=0.0, **more):
    """A bench result as the sound bench would give it; ``tilt`` changes the machine's shape."""
    bands = tuple(
        {
            "midband_hz": float(1000 * 10 ** (k / 10)),
            "running_db": level - 10 + tilt * k,
            "running_error_db": 0.1,
            "still_db": background - 10,
        }
        for k in range(-7, 10)
    )
    return SoundBench(
        20.0,
        44_100.0,
        "",
        (Run(0, 3, "still"), Run(3, 20, "running")),
        Estimate.plus_minus(level, half, "dB(A)"),
        Estimate.plus_minus(level, half, "dB(A)"),
        Estimate.plus_minus(background, 0.2, "dB(A)"),
        **{"bands": bands, **more},
    )


def row(result, name):
    return next(r for r in result.rows if r.quantity == name)


def test_a_quieter_machine_is_better():
    result = compare(sheet(-40), sheet(-44, tilt=0.4))
    assert row(result, "level").verdict == "better"
    assert result.verdict == "better"


def test_a_louder_machine_is_worse():
    assert compare(sheet(-44), sheet(-40, tilt=0.4)).verdict == "worse"


def test_the_change_has_the_interval_of_two_independent_readings_and_of_two_takes():
    """In quadrature (JCGM 100:2008, 5.1.2); two takes differ by 0.15 dB (standard error) more."""
    change = row(compare(sheet(-40, 0.3), sheet(-44, 0.4, tilt=0.4)), "level").change
    assert change.value == pytest.approx(-4)
    assert change.half_width == pytest.approx((0.3**2 + 0.4**2 + (1.96 * 0.15) ** 2) ** 0.5)


def test_the_same_recording_twice_proves_nothing():
    result = compare(sheet(), sheet())
    assert {r.verdict for r in result.rows} == {"no_provable_change"}
    assert result.verdict == "no_provable_change"


def test_less_than_two_takes_differ_by_is_no_proof():
    found = row(compare(sheet(-40.0, 0.1), sheet(-40.8, 0.1)), "level")
    assert found.verdict == "no_provable_change"
    assert "two takes" in found.reason


@pytest.mark.parametrize(
    ("after", "word"),
    [
        (sheet(-44, tilt=0.4, clipped_share=0.02), "clipped"),
        (sheet(-44, background=-52, tilt=0.4), "gain has changed"),
        (sheet(-45), "changed alike"),
        (sheet(-44, tilt=0.4, room_change=Estimate.plus_minus(5, 1, "dB")), "automatic gain"),
    ],
    ids=["clipping", "room or gain", "distance", "automatic gain"],
)
def test_levels_on_another_footing_are_not_comparable(after, word):
    result = compare(sheet(-40), after)
    level = row(result, "level")
    assert level.verdict == "not_comparable"
    assert word in level.reason
    assert result.verdict == "not_comparable"


def test_another_room_is_told_from_another_gain():
    other = sheet(-44, background=-52, tilt=0.4)
    bands = tuple({**b, "still_db": b["still_db"] + 3 * (i % 2)} for i, b in enumerate(other.bands))
    assert "another room" in find_footing(sheet(-40), replace(other, bands=bands)).levels


SPEED = Estimate.plus_minus(50, 0.1, "1/s")


def ran(speed=SPEED, status="confident", **more):
    """A recording with a motor speed and all that rests on it."""
    order = {"name": "stage 1 mesh", "heard": True, "level_db": -50.0, "error_db": 0.3}
    return sheet(
        motor_speed=speed,
        motor_speed_status=status,
        orders=(order,),
        **{
            "wheel_turn_modulation": Estimate.plus_minus(20, 2, "percent"),
            "speed_swing": Estimate.plus_minus(4, 1, "percent"),
            "squeal": Estimate.plus_minus(12, 2, "dB"),
            "crackle": Estimate.plus_minus(1, 0.3, "1/s"),
            "start_time": Estimate.plus_minus(0.8, 0.3, "s"),
            **more,
        },
    )


RESTS_ON_SPEED = {
    "motor_speed",
    "wheel_turn_modulation",
    "speed_swing",
    "squeal",
    "start_time",
}


def test_every_quantity_of_the_list_has_its_row():
    names = {r.quantity for r in compare(ran(), ran()).rows}
    assert names >= RESTS_ON_SPEED | {"level", "crackle", "order: stage 1 mesh"}
    assert any(name.startswith("band: ") for name in names)


@pytest.mark.parametrize("unsure", ["before", "after", "both"])
def test_an_unsure_speed_makes_all_that_rests_on_it_incomparable(unsure):
    before = ran(status="confident" if unsure == "after" else "ambiguous")
    after = ran(status="confident" if unsure == "before" else "ambiguous")
    result = compare(before, after)
    untold = {r.quantity for r in result.rows if r.verdict == "not_comparable"}
    assert untold == RESTS_ON_SPEED
    assert "not confident" in row(result, "squeal").reason
    assert not any(r.quantity.startswith("order") for r in result.rows)
    assert row(result, "level").verdict == "no_provable_change"
    assert "not known" in result.warnings[0]


@pytest.mark.parametrize("factor", [0.8, 1.2])
def test_another_speed_is_neither_better_nor_worse(factor):
    result = compare(ran(), ran(SPEED * factor))
    assert row(result, "motor_speed").verdict == "not_comparable"
    assert "neither better nor worse" in row(result, "motor_speed").reason
    assert row(result, "motor_speed").as_json()["neutral"]
    assert result.verdict == "no_provable_change"


def test_the_same_speed_twice_proves_no_change_of_it():
    assert row(compare(ran(), ran(SPEED * 1.001)), "motor_speed").verdict == "no_provable_change"


@pytest.mark.parametrize(
    ("factor", "level", "verdict"),
    [
        (1.0, -38, "worse"),
        (1.15, -38, "no_provable_change"),  # 15 % faster may be 3.6 dB louder
        (1.15, -34, "worse"),
        (1.15, -42, "better"),  # faster, and quieter all the same
        (0.85, -42, "no_provable_change"),
        (0.85, -38, "worse"),
    ],
)
def test_a_faster_run_may_be_louder_without_being_worse(factor, level, verdict):
    """60 lg(1.15) = 3.6 dB and 60 lg(0.85) = -4.2 dB, by hand."""
    found = row(compare(ran(), ran(SPEED * factor, level=level, tilt=0.4)), "level")
    assert found.verdict == verdict


def test_tones_that_moved_far_are_not_compared():
    found = row(compare(ran(), ran(SPEED * 1.15)), "order: stage 1 mesh")
    assert found.verdict == "not_comparable"
    assert "same speed" in found.reason


def test_what_neither_side_has_makes_no_row():
    names = [r.quantity for r in compare(sheet(), sheet()).rows]
    assert "crackle" not in names


def test_nothing_measurable_is_not_comparable():
    nothing = NotMeasurable("nothing runs", "dB(A)")
    empty = replace(sheet(), level=nothing, bands=())
    assert compare(empty, empty).verdict == "not_comparable"


def test_a_result_survives_its_json(rng):
    bench = measure_samples(rng.standard_normal(6 * RATE).astype("f4") * 0.01, RATE)
    again = SoundBench.from_json(bench.as_json())
    assert again.as_json() == bench.as_json()
    assert np.isfinite(again.level.value)


@pytest.mark.shared
def test_two_takes_of_a_healthy_fan_agree_and_a_faulty_one_differs(shared_data):
    def fan(name):
        return measure_file(shared_data / f"mimii_fan_id00_{name}.wav")

    one, two = fan("normal_00000000"), fan("normal_00000001")
    faulty = fan("abnormal_00000000")
    healthy = compare(one, two)
    unchanged = [r.verdict == "no_provable_change" for r in healthy.rows]
    assert sum(unchanged) > 0.8 * len(unchanged)
    assert healthy.verdict == "no_provable_change"
    assert compare(one, faulty).verdict == "worse"
