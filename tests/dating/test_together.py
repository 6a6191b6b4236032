"""Belonging together, weighed by enumeration over years."""

import itertools

import pytest

from outshop.dating.evidence import Evidence
from outshop.dating.together import belongs_together, reading_of, readings_of
from outshop.railway.edtf_years import read_years

YEARS = range(1950, 1971)


def seen(part, window, trust=0.9):
    return Evidence(f"{part} sign", read_years(window), trust, "edition", part)


AGREE = [seen("model", "1955/1959"), seen("box", "1957/1962"), seen("leaflet", "1954/1958")]
ODD_BOX = [
    seen("model", "1955/1959", 0.95),
    seen("tender", "1955/1960", 0.95),
    seen("box", "1965/1970", 0.95),
    seen("box", "1964/..", 0.95),
]


def test_agreeing_parts_belong_together():
    likeliest = belongs_together(AGREE, YEARS).histories[0]
    assert likeliest.odd_part == ""
    assert likeliest.probability > 0.7


def test_the_box_of_another_decade_is_named_with_its_reading():
    likeliest = belongs_together(ODD_BOX, YEARS).histories[0]
    assert likeliest.odd_part == "box"
    assert likeliest.probability > 0.7
    assert likeliest.reading.name == "married packing"
    assert likeliest.reading.settles


def test_one_doubtful_sign_alone_does_not_condemn_the_box():
    likeliest = belongs_together([*ODD_BOX[:2], seen("box", "1965/1970", 0.8)], YEARS).histories[0]
    assert likeliest.odd_part == ""


def test_histories_equal_enumeration_over_all_pairs_of_years():
    swapped = 0.1
    weights = {}
    for odd in ["", "model", "tender", "box"]:
        total = 0.0
        for common, own in itertools.product(YEARS, YEARS):
            weight = 1.0
            for item in ODD_BOX:
                year = own if item.part == odd else common
                weight *= item.trust if year in item.window else 1 - item.trust
            total += weight / len(YEARS) ** 2
        weights[odd] = total * (swapped / (1 - swapped) if odd else 1)
    norm = sum(weights.values())
    for history in belongs_together(ODD_BOX, YEARS).histories:
        assert history.probability == pytest.approx(weights[history.odd_part] / norm)


def test_a_single_part_has_nothing_to_disagree_with():
    found = belongs_together([seen("model", "1955/1959")], YEARS)
    assert [h.odd_part for h in found.histories] == [""]
    assert found.parts[0].spans[0][0] <= 1955


def test_unknown_parts_have_no_reading():
    assert reading_of("flux capacitor") is None
    assert reading_of(" Lettering ").name == "repainted or relettered"


def test_what_was_set_aside_is_read_with_the_entries_that_speak_for_it():
    case = [*ODD_BOX, seen("livery", "1968/.."), seen("whatsit", "1970")]
    found = [(r.name, members) for r, members in readings_of(case, [2, 3, 4, 5])]
    assert found == [("married packing", [2, 3]), ("repainted or relettered", [4])]
    assert readings_of(case, []) == []
