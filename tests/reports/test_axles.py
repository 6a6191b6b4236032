"""The axle diagram against what the notation itself says."""

import itertools
import re
from xml.etree import ElementTree as ET

import pytest

from outshop.railway import arrangement
from outshop.reports.axles import AxleMark, arrangement_diagrams, printed_diagram

SVG = "{http://www.w3.org/2000/svg}"


def drawn(text: str, **options):
    marks = options.pop("marks", {})
    svgs = arrangement_diagrams(arrangement.parse(text), marks, **options)
    return [ET.fromstring(svg) for svg in svgs]


def wheels(unit: ET.Element) -> list[float]:
    """Radii of the wheels: the circles drawn in full ink."""
    return [float(c.get("r")) for c in unit.iter(f"{SVG}circle") if c.get("class") == "ink"]


# UIC leaflet 650's counting: a digit is that many carrying axles, a letter that many driven ones.
@pytest.mark.parametrize(
    ("text", "sizes"),
    [
        ("1'D1'", ["cDDDDc"]),
        ("1'D1'+2'2'", ["cDDDDc", "cccc"]),
        ("2'C", ["ccDDD"]),
        ("Bo'Bo'", ["DDDD"]),
        ("A1A-A1A", ["DcDDcD"]),
        ("2-8-2", ["cDDDDc"]),
    ],
)
def test_each_letter_draws_large_wheels_and_each_digit_small_ones(text, sizes):
    units = drawn(text)
    large = max(r for unit in units for r in wheels(unit))
    assert ["".join("D" if r == large else "c" for r in wheels(u)) for u in units] == sizes


def test_wheels_stand_on_the_rail_in_running_order_without_overlap():
    for unit in drawn("1'D1'+2'2'"):
        circles = [c for c in unit.iter(f"{SVG}circle") if c.get("class") == "ink"]
        places = [tuple(float(c.get(k)) for k in ("cx", "cy", "r")) for c in circles]
        assert len({round(y + r, 6) for _, y, r in places}) == 1
        assert all(a[0] + a[2] < b[0] - b[2] for a, b in itertools.pairwise(places))


def test_coupled_axles_get_one_crank_pin_each_and_own_motors_none():
    def pins(unit):
        return [c for c in unit.iter(f"{SVG}circle") if c.get("r") == "5"]

    assert len(pins(drawn("1'D1'")[0])) == 4
    assert pins(drawn("Bo'Bo'")[0]) == []
    assert pins(drawn("A1A-A1A")[0]) == []


def test_states_differ_by_shape_and_not_only_by_colour():
    shapes = {}
    for severity in ("good", "watch", "fault", "stop", "absent"):
        unit = drawn("C", marks={"2": AxleMark("x", severity)})[0]
        text = ET.tostring(unit, encoding="unicode")
        plain = re.sub(r'(stroke|fill|class)="[^"]*"', "", text)
        shapes[severity] = plain
    assert len(set(shapes.values())) == 5


def test_a_mark_is_spoken_and_written_at_its_axle():
    unit = drawn("1'C1'", marks={"a": AxleMark("seized", "stop")}, titles={"engine": "Engine"})[0]
    assert unit.get("aria-label") == "Engine: axle a seized"
    word = next(t for t in unit.iter(f"{SVG}text") if t.text == "seized")
    name = next(t for t in unit.iter(f"{SVG}text") if t.text == "a")
    assert word.get("x") == name.get("x")


def test_each_axle_is_a_link_that_the_keyboard_can_reach():
    unit = drawn("1'C1'", link=lambda key: f"?axle={key}", current="2")[0]
    links = list(unit.iter(f"{SVG}a"))
    assert [a.get("href") for a in links] == [f"?axle={k}" for k in "a123b"]
    assert [a.get("aria-current") for a in links] == [None, None, "true", None, None]
    assert unit.get("role") == "group"


def test_long_words_of_neighbours_stand_on_different_lines():
    marks = {k: AxleMark("wobbles or is bent", "fault") for k in "123"}
    unit = drawn("C", marks=marks)[0]
    rows = {}
    for text in unit.iter(f"{SVG}text"):
        if text.text != "bent":
            continue
        rows[text.get("x")] = float(text.get("y"))
    left, middle, right = (rows[x] for x in sorted(rows, key=float))
    assert left == right
    assert middle < left
    top = float(unit.get("viewBox").split()[1])
    assert all(float(t.get("y")) > top for t in unit.iter(f"{SVG}text"))


def test_words_of_the_person_cannot_break_out_of_the_drawing():
    svg = arrangement_diagrams(
        arrangement.parse("B"),
        {"1": AxleMark('<script>"&', "good")},
        titles={"engine": '"><script>'},
    )[0]
    assert "<script" not in svg
    ET.fromstring(svg)


def test_nothing_in_the_drawing_needs_inline_style():
    for svg in arrangement_diagrams(arrangement.parse("2'D2'+3'3'"), {}):
        assert "style" not in svg


def test_printed_units_stand_side_by_side_on_one_rail():
    sheet = ET.fromstring(
        printed_diagram(
            arrangement.parse("1'C+2'2'"), {"1": AxleMark("wobbles or is bent", "fault")}
        )
    )
    engine, tender = sheet.findall(f"{SVG}svg")
    assert float(tender.get("x")) == float(engine.get("width"))
    rails = [float(u.get("y")) + float(u.get("height")) for u in (engine, tender)]
    assert rails[0] == rails[1] == float(sheet.get("height"))
    assert float(sheet.get("width")) == float(tender.get("x")) + float(tender.get("width"))
