"""The part list, the reviewed cautions and the summary of an inspection, part by part."""

import pytest

from outshop.errors import MissingError
from outshop.workshop.cautions import all_cautions, caution, cautions_for, defer
from outshop.workshop.findings import Finding, summarise
from outshop.workshop.parts import axle_states, part, part_list

# The inspection's part list as the project set it out (own requirement).
DEMANDED_PARTS = [
    "body",
    "paint",
    "lettering",
    "handrails",
    "couplings",
    "pick-up",
    "wheels",
    "tyres",
    "rods",
    "gears",
    "motor",
    "brushes",
    "commutator",
    "magnet",
    "lamps",
    "reverser",
    "smoke-unit",
    "wiring",
    "box",
    "inner-packing",
    "papers",
]
DEMANDED_CAUTIONS = [
    "solvent",
    "mains",
    "heat",
    "lead",
    "asbestos",
    "magnet",
    "small-parts",
    "smoke-fluid",
    "zinc-pest",
    "brittle-insulation",
]


@pytest.mark.parametrize("name", DEMANDED_PARTS)
def test_each_demanded_part_can_be_good_missing_or_never_fitted(name):
    states = {s.id: s.gravity for s in part(name).states}
    assert states["good"] == "good"
    assert states["missing"] == "absent"
    assert states["not-fitted"] == "good"
    assert {"watch", "fault", "stop"} & set(states.values())


def test_an_axle_can_be_free_stiff_or_seized_and_stands_at_the_diagram():
    assert {"free", "stiff", "seized"} <= {s.id for s in axle_states()}
    assert "axle" not in {p.id for p in part_list()}


@pytest.mark.parametrize("name", DEMANDED_CAUTIONS)
def test_each_demanded_caution_is_there_with_its_source(name):
    known = caution(name)
    assert known.title
    assert known.text
    assert known.source


def test_cautions_come_once_and_those_for_people_first():
    names = ["over-oiling", "heat", "over-oiling", "solvent"]
    found = cautions_for(names)
    assert [c.id for c in found] == ["heat", "solvent", "over-oiling"]
    assert "licensed" in defer()
    assert "Local codes" in defer()
    with pytest.raises(MissingError, match="no caution is called 'noise'"):
        caution("noise")


def test_ids_are_unique():
    assert len({c.id for c in all_cautions()}) == len(all_cautions())
    for known in part_list():
        assert len({s.id for s in known.states}) == len(known.states)


def test_a_part_nobody_looked_at_is_not_called_good():
    condition = summarise([Finding("box", "good")])
    states = {line.part.id: line.state for line in condition.lines}
    assert states["papers"] is None
    assert condition.looked_at == 1


def test_the_summary_sorts_by_gravity_and_the_last_word_counts():
    condition = summarise(
        [
            Finding("axle", "stiff", "1"),
            Finding("axle", "seized", "2"),
            Finding("papers", "missing"),
            Finding("paint", "good"),
            Finding("paint", "rubbed", note="left side"),
            Finding("axle", "free", "1"),
        ]
    )
    assert [f.sentence for f in condition.stops] == ["Axle 2: seized"]
    assert [f.sentence for f in condition.missing] == ["Papers: missing"]
    assert [f.sentence for f in condition.watch] == ["Paint: rubbed"]
    assert not condition.faults
    assert (condition.looked_at, condition.present) == (2, 1)
    assert next(x for x in condition.lines if x.part.id == "paint").note == "left side"
