"""The chart of a speed table: each direction and sweep by its own mark, the norm's band behind."""

import xml.etree.ElementTree as ET

import pytest

from outshop.bench.motion.speed_rows import SpeedPoint, SpeedRows
from outshop.bench.motion.speed_table import measure
from outshop.railway.scales import scale
from outshop.reports.speed_chart import lines_of, speed_chart

RUNS = [(2, 0.0), (4, 0.06), (6, 0.15), (8, 0.24), (12, 0.42)]


def table(unit="V", directions=("forward",), **more):
    points = [
        SpeedPoint(s, d, sweep, v) for d in directions for sweep in ("up", "down") for s, v in RUNS
    ]
    return measure(SpeedRows(unit, tuple(points)), **more)


def drawn(svg):
    return list(ET.fromstring(svg).iter())


def test_each_run_has_its_mark_round_forward_square_in_reverse():
    parts = drawn(speed_chart(table(directions=("forward", "reverse"))))
    # one more of each in the legend
    assert sum(p.tag == "circle" for p in parts) == 2 * (len(RUNS) + 1)
    assert sum(p.tag == "rect" for p in parts) == 2 * (len(RUNS) + 1)


def test_a_faster_run_stands_higher_and_a_higher_setting_further_right():
    marks = [p for p in drawn(speed_chart(table())) if p.tag == "circle" and len(p)]
    places = [(float(m.get("cx")), float(m.get("cy"))) for m in marks][: len(RUNS)]
    assert [x for x, _ in places] == sorted(x for x, _ in places)
    assert [y for _, y in places] == sorted((y for _, y in places), reverse=True)


def test_the_band_of_nem_661_is_drawn_only_with_scale_and_full_size_speed():
    assert "NEM 661" not in speed_chart(table())
    assert "NEM 661" in speed_chart(table(scale=scale("H0"), full_size_km_h=120))


def test_speeds_are_at_full_size_when_the_scale_is_known():
    """NEM 010: H0 is 1:87; 0.42 m/s is 131.5 km/h."""
    top = lines_of(table(scale=scale("H0")))[0].spots[-1]
    assert top == (12, pytest.approx(0.42 * 87 * 3.6))


def test_the_table_before_stands_faintly_behind_only_with_the_same_unit():
    assert 'opacity=".3"' in speed_chart(table(), table())
    assert 'opacity=".3"' not in speed_chart(table(), table(unit="step"))


@pytest.mark.parametrize("runs", [[(0, 0.0)], [(6, 0.0)], [(6, 0.1)]])
def test_one_run_that_may_have_stood_is_drawn(runs):
    points = tuple(SpeedPoint(s, "forward", "up", v) for s, v in runs)
    assert drawn(speed_chart(measure(SpeedRows("V", points))))


def test_words_are_escaped():
    assert "<b>" not in speed_chart(table(), words={"setting": "<b>V</b>"})
