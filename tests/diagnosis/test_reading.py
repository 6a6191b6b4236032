"""How a case reads: monotone relations, settling checks, look-alikes, a fitter's rules."""

import numpy as np
import pytest

from outshop.diagnosis.case import Case, read_measured
from outshop.diagnosis.diagnosis import diagnose
from outshop.diagnosis.load import shipped_knowledge
from outshop.diagnosis.priors import weights
from outshop.diagnosis.reasons import weigh

KNOWLEDGE = shipped_knowledge()
ENTROPY_WIDE = 3.0  # bits


def groups(found):
    return [g for g, _ in found.groups]


def probability(found, cause):
    return next(c.probability for c in found.causes if c.cause.id == cause)


def test_a_typical_observation_never_lowers_its_cause():
    """Typical: at least twice as strong as for causes on average."""
    start = weigh(KNOWLEDGE, Case(), items=False).posterior.cause[0]
    share = weights(KNOWLEDGE)
    tried = 0
    for sign in KNOWLEDGE.signs:
        if sign.kind == "history" or sign.healthy:
            continue
        column = KNOWLEDGE.strengths[:, KNOWLEDGE.sign_column[sign.id]]
        typical = np.flatnonzero(column >= 2 * float(column @ share))
        after = weigh(KNOWLEDGE, Case(yes=(sign.id,)), items=False).posterior.cause[0]
        for row in typical:
            assert after[row] >= start[row], (sign.id, KNOWLEDGE.causes[row].id)
            tried += 1
    assert tried > 500


@pytest.mark.parametrize("cause", KNOWLEDGE.causes, ids=lambda c: c.id)
def test_a_confirming_check_raises_and_a_failed_one_lowers_its_cause(cause):
    """The best outcome of the cause's own check, found and not found."""
    check = KNOWLEDGE.check_by_id[cause.confirm]
    row = KNOWLEDGE.causes.index(cause)
    outcome = max(check.tells, key=lambda s: KNOWLEDGE.strengths[row, KNOWLEDGE.sign_column[s]])
    context = {"motor": "field-coil"} if cause.id.startswith("field_coil") else {}
    start, found, missed = (
        weigh(KNOWLEDGE, Case(**said, **context), items=False).posterior
        for said in ({}, {"yes": (outcome,)}, {"no": (outcome,)})
    )
    place = KNOWLEDGE.group_of_cause[row]
    assert (found.group[0] > found.group[0, place]).sum() < 3
    assert found.cause[0, row] > 2.5 * start.cause[0, row]
    assert missed.cause[0, row] < 0.5 * start.cause[0, row]


def test_a_sole_confirming_check_settles_its_cause():
    settled = diagnose(Case(system="dc2", yes=("runs_slow", "wiping_commutator_helps")))
    assert settled.causes[0].cause.id == "commutator_dirty"
    assert settled.causes[0].probability > 0.7


# Measured signatures of the look-alike table: a DC motor with R +50 %, k -30 %, friction x2
# (rows: light current, light speed, loss per load, starting voltage, stall current, ten minutes).
KEYS = (
    "light_current_ratio",
    "light_speed_ratio",
    "load_drop_ratio",
    "start_voltage_ratio",
    "stall_current_ratio",
    "warm_current_ratio",
)
LOOK_ALIKES = {
    "dried_lubricant": (2.0, 0.80, 1.0, 2.0, 1.0, 0.8),
    "weak_magnet": (1.43, 1.30, 2.04, 1.2, 1.0, 1.2),
    "dirty_commutator": (1.0, 0.85, 1.5, 1.5, 0.67, 1.0),
    "coil_short": (1.8, 0.75, 1.6, 1.5, 1.5, 1.3),
    "dirty_wheels_pickup": (1.0, 0.9, 1.5, 1.2, 0.67, 1.0),
}
SAID = {
    "dirty_commutator": {"current_ripple_percent": 45.0, "current_dropouts_per_min": 0.0},
    "dirty_wheels_pickup": {"current_dropouts_per_min": 8.0, "current_ripple_percent": 30.0},
}


@pytest.mark.parametrize("group", LOOK_ALIKES)
def test_look_alikes_are_told_apart_by_measurement(group):
    values = dict(zip(KEYS, LOOK_ALIKES[group], strict=True)) | SAID.get(group, {})
    yes = ("runs_on_bench_not_track",) if group == "dirty_wheels_pickup" else ()
    found = diagnose(Case(yes=yes, measured=read_measured(values, KNOWLEDGE)))
    assert groups(found)[0] == group


def test_a_slipping_drive_is_told_by_wheels_lagging_the_motor():
    values = {"light_current_ratio": 1.0, "wheel_motor_speed_ratio": 0.6, "start_voltage_ratio": 1}
    found = diagnose(Case(measured=read_measured(values, KNOWLEDGE)))
    assert set(groups(found)[:2]) <= {"split_gear", "coupling", "worn_gear"}


# row, key, value of the cell, columns it speaks for, columns it speaks against
FRICTION, MAGNET = "dried_lubricant", "weak_magnet"
CONTACT, COIL = "dirty_commutator", "coil_short"
SLIP, PICKUP = "coupling", "dirty_wheels_pickup"
ROWS = [
    (
        "light current up",
        {"light_current_ratio": 1.9},
        {FRICTION, MAGNET, COIL},
        {CONTACT, SLIP, PICKUP},
    ),
    ("light speed up", {"light_speed_ratio": 1.25}, {MAGNET}, {FRICTION, CONTACT, COIL}),
    ("light speed down", {"light_speed_ratio": 0.75}, {FRICTION, CONTACT, COIL}, {MAGNET}),
    ("loss per load up", {"load_drop_ratio": 2.0}, {MAGNET, CONTACT, COIL, PICKUP}, {FRICTION}),
    ("starting voltage up", {"start_voltage_ratio": 1.9}, {FRICTION, CONTACT, COIL}, {SLIP}),
    (
        "stall current low",
        {"stall_current_ratio": 0.6},
        {CONTACT, PICKUP},
        {FRICTION, MAGNET, COIL},
    ),
    (
        "stall current high",
        {"stall_current_ratio": 1.6},
        {COIL},
        {FRICTION, MAGNET, CONTACT, PICKUP},
    ),
    ("better when warm", {"warm_current_ratio": 0.75}, {FRICTION}, {MAGNET, COIL}),
    ("worse when warm", {"warm_current_ratio": 1.3}, {MAGNET, COIL}, {FRICTION}),
    ("current to zero", {"current_dropouts_per_min": 6.0}, {PICKUP}, {FRICTION, MAGNET, SLIP}),
    ("jumpy", {"current_ripple_percent": 60.0}, {CONTACT, PICKUP}, {MAGNET, FRICTION}),
]


@pytest.mark.parametrize(("row", "values", "rises", "falls"), ROWS, ids=[r[0] for r in ROWS])
def test_look_alike_table_row_by_row(row, values, rises, falls):
    start = dict(diagnose(Case()).groups)
    after = dict(diagnose(Case(measured=read_measured(values, KNOWLEDGE))).groups)
    for group in rises:
        assert after[group] > 1.25 * start[group], group
    for group in falls:
        assert after[group] < 1.02 * start[group], group


def test_power_straight_to_the_motor_cures_only_pick_up():
    start = dict(diagnose(Case(system="dc2")).groups)
    after = dict(diagnose(Case(system="dc2", yes=("runs_on_bench_not_track",))).groups)
    assert after[PICKUP] > 3 * start[PICKUP]
    for group in (FRICTION, MAGNET, CONTACT, COIL, SLIP):
        assert after[group] < start[group]


def test_does_not_move_alone_spreads_wide():
    p = np.array([p for _, p in diagnose(Case(yes=("no_move",))).groups])
    p = p / p.sum()
    assert -(p * np.log2(p)).sum() > ENTROPY_WIDE
    assert p[0] < 0.25


def test_motor_runs_without_wheels_narrows_at_once():
    found = diagnose(Case(yes=("motor_runs_no_drive",)))
    drive = {
        "split_gear",
        "coupling",
        "gear_mesh_misaligned",
        "worn_gear",
        "motor_mount_loose",
        "wheel_out_of_round_or_loose",
    }
    assert set(groups(found)[:5]) <= drive
    assert found.groups[0][0] == "split_gear"


def test_several_engines_failing_alike_point_at_track_or_supply():
    for trouble in ("jerky", "runs_slow", "no_move", "stutter_pickup"):
        found = diagnose(Case(yes=(trouble, "other_locos_same")))
        assert groups(found)[0] == "track_or_supply", trouble
    cleared = dict(diagnose(Case(yes=("stutter_pickup", "other_locos_ok"))).groups)
    assert cleared["track_or_supply"] < 0.02


DC, AC, DIGITAL = (
    {"system": "dc2"},
    {"system": "ac3", "motor": "field-coil"},
    {"system": "digital2"},
)

# What an old fitter reads first (judgement): context, signs, groups one of which must lead.
RULES = [
    (DC, "wheels_locked long_storage", "dried_lubricant seized_axle"),
    (DC, "wheels_locked after_service", "rods_binding_or_quartering gear_mesh_misaligned"),
    (
        DC,
        "wheels_locked sudden_stop",
        "foreign_matter gear_mesh_misaligned rods_binding_or_quartering",
    ),
    (AC, "motor_runs_no_drive", "worn_gear"),
    (DC, "motor_runs_no_drive stops_curves", "coupling"),
    (DC, "once_per_rev click_thump", "split_gear"),
    (DC, "once_per_rev stiff_by_hand", "rods_binding_or_quartering"),
    (DC, "starts_with_push free_by_hand", "dirty_commutator"),
    (DC, "starts_with_push stutter_pickup wheels_black", "dirty_wheels_pickup"),
    (AC, "no_move_hum_buzz", "reversing_unit"),
    (AC, "ignores_direction_change", "reversing_unit"),
    (AC, "no_move_hum_buzz wheels_locked", "dried_lubricant seized_axle"),
    (DC, "short_only_with_shell", "broken_wire_or_joint"),
    (DC, "short_trips after_service", "broken_wire_or_joint"),
    (DC, "smoke_smell motor_hot", "coil_short"),
    (DC, "smoke_smell visible_carbon_comm", "commutator_slots_bridged"),
    (DIGITAL, "smoke_smell decoder_ignores", "decoder_fault"),
    (DC, "ammeter_jumps", "dirty_commutator"),
    (DC, "runs_on_bench_not_track", "dirty_wheels_pickup broken_wire_or_joint"),
    (DIGITAL, "runs_on_bench_not_track", "decoder_fault"),
    (AC, "runs_on_bench_not_track", "reversing_unit"),
    (DC, "derails_turnout_curve", "wheel_out_of_gauge"),
    (DC, "better_one_direction", "thrust_washer_or_end_play"),
    (DC, "squeal_scream", "motor_bearing"),
    (DC, "squeal_scream long_storage", "dried_lubricant"),
    (DIGITAL, "decoder_erratic after_service", "decoder_setting"),
    ({"decade": 1930}, "visible_crack wheels_locked", "zinc_pest"),
]


@pytest.mark.parametrize(
    ("context", "signs", "first"), RULES, ids=[r[1].replace(" ", "+") for r in RULES]
)
def test_a_fitters_rule_leads(context, signs, first):
    found = diagnose(Case(yes=tuple(signs.split()), **context))
    assert groups(found)[0] in first.split()


def test_because_says_what_speaks_for_and_against():
    case = Case(system="dc2", yes=("motor_runs_no_drive",), no=("visible_crack",))
    found = next(c for c in diagnose(case).causes if c.cause.id == "axle_gear_split")
    said = {r.item: r.log_odds for r in found.because}
    assert said["motor_runs_no_drive"] > 1.5
    assert said["visible_crack"] < -0.2


def test_log_odds_are_those_of_leaving_the_observation_out():
    case = Case(system="dc2", yes=("jerky", "wheels_black"))
    whole, less = diagnose(case), diagnose(Case(system="dc2", yes=("jerky",)))
    p, q = probability(whole, "wheels_dirty"), probability(less, "wheels_dirty")
    said = next(c for c in whole.causes if c.cause.id == "wheels_dirty").because
    expected = np.log(p / (1 - p)) - np.log(q / (1 - q))
    assert next(r.log_odds for r in said if r.item == "wheels_black") == pytest.approx(expected)


def test_a_second_reading_is_of_another_group():
    found = diagnose(Case(yes=("runs_slow",)))
    second = found.second_reading(found.causes[0])
    assert second.cause.group != found.causes[0].cause.group


def test_a_named_sign_counts_once_when_a_stronger_one_implies_it():
    strong = diagnose(Case(yes=("no_move_no_sound",))).groups
    both = diagnose(Case(yes=("no_move", "no_move_no_sound"))).groups
    assert dict(both) == pytest.approx(dict(strong))


def test_hot_old_wiring_and_zinc_raise_their_stop_signs():
    assert "brittle_wiring" in [s.id for s in diagnose(Case(decade=1930)).stop]
    cleared = diagnose(Case(decade=1930, no=("insulation_cracks",)))
    assert "brittle_wiring" not in [s.id for s in cleared.stop]
    zinc = diagnose(Case(decade=1930, yes=("visible_crack", "stiff_by_hand")))
    assert "zinc_pest" in [s.id for s in zinc.stop]
    hot = diagnose(Case(measured=read_measured({"temperature_c": 70}, KNOWLEDGE)))
    assert "too_hot" in [s.id for s in hot.stop]


def test_contradictory_observations_are_named_with_their_improbability():
    found = diagnose(Case(yes=("wheels_locked", "free_by_hand")))
    conflict = found.conflicts[0]
    assert {conflict.one, conflict.other} == {"wheels_locked", "free_by_hand"}
    assert 0 < conflict.ratio < 0.5
    assert "look again" in conflict.says


def test_excluding_by_meaning_is_said_and_set_aside():
    found = diagnose(Case(yes=("no_move_no_sound",), no=("no_move",)))
    assert any("exclude each other" in note for note in found.notes)


def test_more_findings_than_can_be_summed_are_thinned_and_said():
    names = [s.id for s in KNOWLEDGE.signs if s.kind in ("movement", "rhythm", "electrical")]
    found = diagnose(Case(yes=tuple(names)))
    assert any("set aside" in note for note in found.notes)
    assert len(found.groups) == 35


def test_a_measurement_replaces_the_word_that_means_the_same():
    measured = read_measured({"light_current_a": 0.1}, KNOWLEDGE)
    with_word = diagnose(Case(yes=("high_current",), measured=measured))
    without = diagnose(Case(measured=measured))
    assert dict(with_word.groups) == pytest.approx(dict(without.groups))
    assert any("light_current_a" in note for note in with_word.notes)


def test_a_wide_interval_says_less_than_a_narrow_one():
    def moved(reading):
        case = Case(measured=read_measured({"light_current_ratio": reading}, KNOWLEDGE))
        return dict(diagnose(case).groups)["dried_lubricant"]

    assert moved(1.9) > moved([1.0, 2.8]) > dict(diagnose(Case()).groups)["dried_lubricant"]
