"""Two speed tables, before and after: only changes beyond chance and two takes count."""

import pytest

from outshop.bench.compare.speed_tables import compare_tables
from outshop.bench.motion.speed_rows import SpeedPoint, SpeedRows
from outshop.bench.motion.speed_table import measure


def table(start, factor=1.0, bow=0.0, unit="V", direction="forward"):
    settings = [s / 2 for s in range(1, 25)] if unit == "V" else range(1, 25)
    points = []
    for s in settings:
        for sweep, stands in (("up", start), ("down", start - 0.6)):
            x = (s - 7) / 5
            v = factor * (0.25 + 0.2 * x + bow * 0.4 * (1 - x**2)) if s > stands else 0.0
            points.append(SpeedPoint(s, direction, sweep, max(v, 0.0)))
    return measure(SpeedRows(unit, tuple(points)), nominal=12)


def verdicts(before, after):
    return {row.quantity: row.word for row in compare_tables(before, after).rows}


def test_an_unchanged_model_shows_no_provable_change():
    found = compare_tables(table(4.2), table(4.2))
    assert found.verdict == "no_provable_change"
    assert {row.verdict for row in found.rows} == {"no_provable_change"}


def test_an_earlier_start_and_a_slower_creep_are_better():
    found = compare_tables(table(6.2), table(3.2))
    assert verdicts(table(6.2), table(3.2))["start_forward"] == "better"
    assert verdicts(table(6.2), table(3.2))["creep_forward"] == "better"
    assert found.verdict == "better"
    assert compare_tables(table(3.2), table(6.2)).verdict == "worse"


def test_a_faster_top_is_a_change_that_is_neither():
    assert verdicts(table(4.2), table(4.2, factor=1.2))["top_forward"] == "changed"


def test_a_bow_is_judged_by_its_size_and_not_its_sign():
    mirrored = verdicts(table(3.2, bow=-0.08), table(3.2, bow=0.08))
    assert mirrored["bow_forward"] != "worse"
    assert verdicts(table(3.2, bow=-0.1), table(3.2, bow=0.0))["bow_forward"] == "better"


def test_volts_and_steps_cannot_be_compared():
    found = compare_tables(table(4.2), table(4, unit="step"))
    assert found.verdict == "not_comparable"
    assert "same throttle" in found.reason


def test_a_figure_of_one_side_only_says_which_side_lacks_it():
    found = compare_tables(table(4.2), table(4.2, direction="reverse"))
    assert {row.verdict for row in found.rows} == {"not_comparable"}
    assert "not measurable after" in found.rows[0].reason


@pytest.mark.parametrize("start", [2.7, 4.2, 6.2])
def test_turning_before_and_after_round_turns_each_verdict_round(start):
    there, back = (
        compare_tables(*p).rows for p in ((table(4.2), table(start)), (table(start), table(4.2)))
    )
    turned = {"better": "worse", "worse": "better"}
    # margins that are shares are taken of the side before, so only clear verdicts must turn
    for one, other in zip(there, back, strict=True):
        if turned.get(one.verdict) and other.verdict in turned:
            assert other.verdict == turned[one.verdict]
        assert one.change.value == pytest.approx(-other.change.value)
