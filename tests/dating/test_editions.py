"""Editions are ranked by what was seen; the table survives a round trip."""

import pytest

from outshop.dating.editions import (
    Observation,
    evidence_from,
    features_left,
    rank_editions,
    read_feature_table,
    write_feature_table,
)
from outshop.errors import TableError

TABLE = """edition,part,feature,variant,window,trust,source
first,model,wheels,spoked,1951/1955,0.9,own notes
first,model,lamps,brass,1951/1955,0.9,own notes
first,box,lid,green,1951/1956,0.8,own notes
second,model,wheels,disc,1956/1960,0.9,own notes
second,model,lamps,brass,1956/1958,0.9,own notes
second,box,lid,red,1957/1960,0.8,own notes
"""


def test_round_trip():
    rows = read_feature_table(TABLE)
    assert read_feature_table(write_feature_table(rows)) == rows


def test_ranking_by_hand():
    """Wheels disc at 0.9: second 0.9, first 0.1; lamps are alike; the rest follows."""
    seen = [Observation("wheels", "disc", 0.9), Observation("lamps", "brass", 0.9)]
    ranks = rank_editions(read_feature_table(TABLE), seen)
    assert [r.edition for r in ranks] == ["second", "first"]
    assert ranks[0].probability == pytest.approx(0.9)
    assert ranks[1].against == ("wheels: disc",)
    assert ranks[1].fits == ("lamps: brass",)


def test_nothing_seen_leaves_all_alike():
    assert {r.probability for r in rank_editions(read_feature_table(TABLE), [])} == {0.5}


def test_a_feature_that_no_edition_knows_changes_nothing():
    ranks = rank_editions(read_feature_table(TABLE), [Observation("smell", "musty")])
    assert {r.probability for r in ranks} == {0.5}
    assert ranks[0].silent == ("smell: musty",)


def test_what_was_seen_becomes_dated_evidence_and_the_rest_is_left_to_look_at():
    rows = read_feature_table(TABLE)
    seen = [Observation("wheels", "disc", 0.95)]
    (item,) = evidence_from(rows, seen)
    assert item.part == "model"
    assert 1958 in item.window
    assert item.trust == 0.9
    assert [f.name for f in features_left(rows, seen)] == ["lid"]


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ("edition,part", "version,part", "edition is missing"),
        ("1951/1955,0.9", "1955/1951,0.9", "line 2.*ends before"),
        ("1951/1955,0.9", "1951/1955,much", "line 2.*trust must be a number"),
        ("1951/1955,0.9", "1951/1955,1", "line 2.*trust must lie"),
        ("wheels,spoked", "wheels,", "line 2.*variant is empty"),
    ],
)
def test_a_bad_line_is_named(old, new, sentence):
    with pytest.raises(TableError, match=sentence):
        read_feature_table(TABLE.replace(old, new, 1))
