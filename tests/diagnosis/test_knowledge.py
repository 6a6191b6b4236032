"""The shipped knowledge is whole, and a wrong file is refused with file, entry and cure."""

import tomllib
from pathlib import Path

import numpy as np
import pytest

from outshop.diagnosis.case import Case
from outshop.diagnosis.load import SHIPPED, load_knowledge, shipped_knowledge
from outshop.diagnosis.priors import prior, weights
from outshop.errors import KnowledgeError

CONTRACT = Path(__file__).parents[3] / "shared" / "reference" / "observations.toml"

# fmt: off
GROUPS = [
    "dried_lubricant", "seized_axle", "dirty_commutator", "commutator_slots_bridged",
    "worn_brushes", "oil_soaked_brushes", "brush_spring", "weak_magnet", "coil_open",
    "coil_short", "dirty_wheels_pickup", "worn_pickup_shoe", "broken_wire_or_joint",
    "reversing_unit", "decoder_setting", "decoder_fault", "split_gear", "worn_gear",
    "gear_mesh_misaligned", "over_lubricated", "wrong_lubricant", "rods_binding_or_quartering",
    "wheel_out_of_gauge", "wheel_out_of_round_or_loose", "traction_tyre", "foreign_matter",
    "thrust_washer_or_end_play", "motor_bearing", "motor_mount_loose", "lamp_or_smoke_short",
    "zinc_pest", "coupling", "suppression_capacitor", "track_or_supply", "other",
]
# fmt: on


def added(tmp_path, name, text):
    """A folder of added knowledge with one file."""
    file = tmp_path / name
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(text, encoding="utf-8")
    return tmp_path


CAUSE = """
[[cause]]
id = "invented_cause"
group = "other"
name = "An invented cause"
share = 0.1
place = ["body"]
confirm = "look_over"
remedy = "Invented."
minutes = 5
cautions = []
source = "invented for this test"
"""


def test_all_groups_of_the_contract_are_there():
    assert [g.id for g in shipped_knowledge().groups] == GROUPS


def test_all_observations_of_the_contract_are_there():
    if not CONTRACT.is_file():
        pytest.skip("no contract list beside the project")
    listed = tomllib.loads(CONTRACT.read_text(encoding="utf-8"))["observation"]
    signs = shipped_knowledge().sign_by_id
    assert len(listed) > 70
    assert [(o["id"], o["kind"]) for o in listed] == [
        (o["id"], signs[o["id"]].kind) for o in listed if o["id"] in signs
    ]


def test_every_cause_has_remedy_source_and_a_check_that_settles_it():
    knowledge = shipped_knowledge()
    assert 55 <= len(knowledge.causes) <= 90
    for cause in knowledge.causes:
        check = knowledge.check_by_id[cause.confirm]
        told = [knowledge.sign_column[s] for s in check.tells]
        row = knowledge.causes.index(cause)
        assert knowledge.strengths[row, told].max() >= 0.7, cause.id
        assert cause.remedy
        assert cause.source


def test_weights_add_to_one_and_context_moves_priors_only():
    knowledge = shipped_knowledge()
    assert weights(knowledge).sum() == pytest.approx(1)
    for system in (None, "dc2", "s-ac"):
        assert prior(knowledge, Case(system=system)).sum() == pytest.approx(0.25, rel=1e-6)


@pytest.mark.parametrize(
    ("context", "group", "more"),
    [
        ({"system": "ac3"}, "reversing_unit", True),
        ({"system": "dc2"}, "reversing_unit", False),
        ({"system": "digital2"}, "decoder_setting", True),
        ({"motor": "field-coil"}, "weak_magnet", False),
        ({"decade": 1930}, "zinc_pest", True),
        ({"outline": "diesel"}, "rods_binding_or_quartering", False),
        ({"outline": "steam"}, "rods_binding_or_quartering", True),
        ({"yes": ("long_storage",)}, "dried_lubricant", True),
        ({"yes": ("after_service",)}, "gear_mesh_misaligned", True),
        ({"no": ("after_service",)}, "gear_mesh_misaligned", False),
    ],
)
def test_context_moves_the_group_the_expected_way(context, group, more):
    knowledge = shipped_knowledge()
    place = GROUPS.index(group)
    members = knowledge.group_of_cause == place
    before = prior(knowledge, Case())[members].sum()
    after = prior(knowledge, Case(**context))[members].sum()
    assert bool(after > before) is more


def test_a_club_can_add_a_cause_without_python(tmp_path):
    knowledge = load_knowledge(added(tmp_path, "causes/club.toml", CAUSE))
    assert knowledge.cause_by_id["invented_cause"].group == "other"
    share = weights(knowledge)[[c.group == "other" for c in knowledge.causes]].sum()
    shipped = shipped_knowledge()
    before = weights(shipped)[[c.group == "other" for c in shipped.causes]].sum()
    assert share == pytest.approx(before)


def test_added_strengths_reach_the_table(tmp_path):
    text = CAUSE + "[cause.signs]\nslips = 0.77\n"
    knowledge = load_knowledge(added(tmp_path, "causes/club.toml", text))
    row = [c.id for c in knowledge.causes].index("invented_cause")
    slips = knowledge.strengths[row, knowledge.sign_column["slips"]]
    assert slips == pytest.approx(0.77 * knowledge.telling[row])


SIGN = '[[sign]]\nid = "{0}"\nasks = "invented"\nwhy = "invented"\nelse = 0.1\nimplies = ["{1}"]\n'

FAULTS = {
    "missing source": (
        "causes/club.toml",
        CAUSE.replace('source = "invented for this test"', ""),
        ["club.toml", "invented_cause", "'source' is missing", "add it"],
    ),
    "probability 1.3": (
        "causes/club.toml",
        CAUSE + "[cause.signs]\nslips = 1.3\n",
        ["club.toml", "invented_cause", "signs.slips", "1.3", "from 0 to 1"],
    ),
    "a loop": (
        "signs/movement.toml",
        SIGN.format("a_sign", "b_sign") + SIGN.format("b_sign", "a_sign"),
        ["a_sign", "loop", "a_sign -> b_sign -> a_sign", "remove"],
    ),
    "unknown sign": (
        "causes/club.toml",
        CAUSE + "[cause.signs]\nslipps = 0.3\n",
        ["invented_cause", "slipps", "nearest: slips"],
    ),
    "unknown group": (
        "causes/club.toml",
        CAUSE.replace('"other"', '"worn_gears"'),
        ["invented_cause", "worn_gears", "worn_gear"],
    ),
    "a key misspelt": (
        "causes/club.toml",
        CAUSE + 'remidy = "x"\n',
        ["club.toml", "invented_cause", "remidy", "remedy"],
    ),
    "twice the same": (
        "causes/club.toml",
        CAUSE + CAUSE,
        ["invented_cause", "2 times", "keep one"],
    ),
    "no TOML": ("causes/club.toml", "[[cause]\n", ["club.toml", "TOML"]),
    "no id": (
        "causes/club.toml",
        CAUSE.replace('id = "invented_cause"', ""),
        ["club.toml", "'id'"],
    ),
    "another table": ("causes/club.toml", "[[couse]]\nid = 'x'\n", ["club.toml", "couse"]),
    "share is a word": (
        "causes/club.toml",
        CAUSE.replace("share = 0.1", 'share = "much"'),
        ["share", "'much'", "number"],
    ),
    "not a number": (
        "causes/club.toml",
        CAUSE.replace("share = 0.1", "share = nan"),
        ["share", "nan"],
    ),
    "healthy sign too strong": (
        "causes/club.toml",
        CAUSE + "[cause.signs]\nfree_by_hand = 0.9\n",
        ["free_by_hand", "healthy", "invented_cause"],
    ),
    "check tells nothing": (
        "checks/club.toml",
        (
            '[[check]]\nid="x"\nname="x"\nminutes=1\nopens="nothing"\nrisk_model=0\nrisk_person=0\n'
            'source="invented"\n'
        ),
        ["club.toml", "'x'", "tells nothing"],
    ),
    "unknown file of signs": ("signs/smells.toml", "", ["smells.toml", "named by kind"]),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_a_wrong_file_is_refused_with_file_entry_and_cure(tmp_path, fault):
    name, text, words = FAULTS[fault]
    with pytest.raises(KnowledgeError) as refused:
        load_knowledge(added(tmp_path, name, text))
    for word in words:
        assert word in str(refused.value)


def test_a_missing_folder_is_refused(tmp_path):
    with pytest.raises(KnowledgeError, match="no knowledge folder"):
        load_knowledge(tmp_path / "nowhere")


def test_every_number_has_a_reason_or_a_source():
    """Signs explain themselves; all else names its source or says judgement."""
    for file in sorted(SHIPPED.rglob("*.toml")):
        for table, entries in tomllib.loads(file.read_text(encoding="utf-8")).items():
            for entry in entries:
                if file.stem not in ("history", "findings"):  # these say it once, at the top
                    key = "why" if table == "sign" else "source"
                    assert entry[key].strip(), (file.name, entry)


def test_strengths_are_probabilities():
    table = shipped_knowledge().strengths
    assert np.isfinite(table).all()
    assert ((table >= 0) & (table <= 1)).all()
