"""What other benches and the inspection found reaches the case."""

import re
from pathlib import Path

import pytest

from outshop.diagnosis import bridges
from outshop.diagnosis.case import Case, read_measured
from outshop.diagnosis.diagnosis import diagnose
from outshop.diagnosis.load import load_knowledge, shipped_knowledge

KNOWLEDGE = shipped_knowledge()
HOWTO = Path(__file__).parents[2] / "docs" / "howto" / "add-a-cause.md"


def estimate(value, unit):
    return {
        "value": value, "low": 0.9 * value, "high": 1.1 * value, "confidence": 0.95, "unit": unit,
        "method": "invented", "warnings": [],
    }  # fmt: skip


def test_sound_gives_orders_hum_and_modulation():
    bench = {
        "wheel_turn_modulation": estimate(60, "percent"),
        "motor_speed_status": "confident",
        "orders": [
            {"name": "stage 1 mesh", "prominence_db": 9.0},
            {"name": "stage 1 mesh ×2", "prominence_db": 18.0},
            {"name": "motor turn", "prominence_db": 4.0},
            {"name": "commutation (6 per turn)", "prominence_db": 20.0},
        ],
        "steady_tones": [{"name": "mains hum 100 Hz", "prominence_db": 22.0}],
    }
    found = read_measured(bridges.from_sound(bench), KNOWLEDGE)
    assert set(found) == {
        "wheel_turn_modulation_percent",
        "mesh_prominence_db",
        "motor_once_prominence_db",
        "mains_hum_prominence_db",
    }
    assert found["mesh_prominence_db"].value == 18
    groups = [g for g, _ in diagnose(Case(measured=found)).groups[:6]]
    assert {"rods_binding_or_quartering", "split_gear"} <= set(groups)


def test_without_a_sure_speed_no_line_has_a_name():
    bench = {
        "motor_speed_status": "ambiguous",
        "orders": [{"name": "motor turn", "prominence_db": 30.0}],
        "wheel_turn_modulation": {"value": None, "reason": "too short", "unit": "percent"},
    }
    assert bridges.from_sound(bench) == {}


def test_clip_current_winding_and_wheels_give_their_keys():
    current = {"running_current": estimate(0.5, "A"), "stalled_current": {"value": None}}
    wheels = {"checks": [{"name": "back_to_back", "by_mm": 0.3}], "run_out_mm": estimate(0.2, "mm")}
    measured = {
        **bridges.from_motion({"speed_ripple": estimate(12, "percent")}),
        **bridges.from_current(current),
        **bridges.from_winding({"verdict": "open"}),
        **bridges.from_wheels(wheels),
    }
    found = read_measured(measured, KNOWLEDGE)
    assert set(found) == {
        "speed_ripple_percent", "light_current_a", "winding_verdict", "back_to_back_error_mm",
        "run_out_mm",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("findings", "group"),
    [
        (["friction-up"], "dried_lubricant"),
        (["magnet-weak"], "weak_magnet"),
        (["coil-shorted"], "coil_short"),
        (["drive-slips"], "split_gear"),
    ],
)
def test_motor_findings_lead_to_their_group(findings, group):
    yes, no = bridges.from_motor({"findings": findings})
    assert not no
    assert diagnose(Case(system="dc2", yes=yes)).groups[0][0] == group


def test_a_motor_that_cleared_its_drive_speaks_against_it():
    assert bridges.from_motor({"findings": ["drive-holds"]}) == ((), ("wheels_lag_motor",))


def test_every_inspection_finding_names_known_signs():
    for yes, no in bridges._finding_signs().values():
        assert {*yes, *no} <= set(KNOWLEDGE.sign_by_id)


def test_every_mapped_state_is_one_of_the_part_list():
    """The workshop's list is read from its own table: renaming a state must be noticed here."""
    from outshop.workshop.parts import all_parts

    known = {(p.id, s.id) for p in all_parts() for s in p.states}
    assert set(bridges._finding_signs()) <= known


def test_found_at_one_place_outweighs_in_order_at_another():
    yes, no = bridges.from_findings([("tyres", "good"), ("axle", "tyre-missing")])
    assert yes == ("tyres_hard_or_missing",)
    assert no == ()


def test_the_examples_of_the_how_to_load(tmp_path):
    texts = re.findall(r"```toml\n(.*?)```", HOWTO.read_text(encoding="utf-8"), re.DOTALL)
    for name, text in zip(
        ("causes/club.toml", "checks/club.toml", "signs/by_hand.toml"), texts, strict=True
    ):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(text, encoding="utf-8")
    knowledge = load_knowledge(tmp_path)
    found = diagnose(Case(yes=("felt_lifted_frees",)), knowledge)
    assert found.causes[0].cause.id == "felt_pad_swollen"
