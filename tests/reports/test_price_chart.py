"""The drawing of prices over time: what is drawn lies where the numbers say."""

import itertools
import re

import pytest
from bs4 import BeautifulSoup

from outshop.reports.prices import Line, price_chart


def drawn(**changes):
    asked = {
        "sales": [(2020.0, 100.0), (2024.0, 200.0)],
        "course": [(2020.0, 80.0, 100.0, 130.0), (2024.0, 150.0, 190.0, 240.0)],
        "lines": [Line("agreed <value>", ((2021.0, 150.0), (2023.0, 180.0)))],
        "unit": "EUR",
        "title": "prices",
    }
    return BeautifulSoup(price_chart(**(asked | changes)), "html.parser")


def test_dots_stand_in_proportion_to_price_from_the_axis():
    svg = drawn()
    low, high = (float(c["cy"]) for c in svg.find_all("circle"))
    axis = float(re.search(r" (\d+\.\d+)H", svg.find("path", stroke="#17262b", fill=False)["d"])[1])
    assert (axis - high) / (axis - low) == pytest.approx(2, rel=0.01)


def test_a_value_holds_until_the_next_and_its_name_is_written():
    svg = drawn()
    (step,) = [p["d"] for p in svg.find_all("path") if "V" in p["d"]]
    assert step.count("V") == 1
    assert step.endswith("H490.0")
    assert "agreed <value>" in svg.get_text()


def test_names_at_one_height_are_pushed_apart():
    lines = [Line(name, ((2021.0, 150.0),)) for name in ("a", "b", "c")]
    names = [t for t in drawn(lines=lines).find_all("text") if t.get_text() in "abc"]
    heights = sorted(float(t["y"]) for t in names)
    assert all(b - a >= 16 for a, b in itertools.pairwise(heights))


def test_nothing_to_draw_is_no_drawing():
    assert price_chart([], [], [], "EUR", "prices") == ""
