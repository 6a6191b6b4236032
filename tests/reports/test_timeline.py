"""The timeline is sound SVG, whatever stands in it."""

from xml.etree import ElementTree as ET

import pytest

from outshop.reports.timeline import Bar, timeline

NS = "{http://www.w3.org/2000/svg}"


def drawn(bars, named=((1958, 1960),), core=(), limits=(1830, 2030)):
    return ET.fromstring(timeline(bars, named, core, limits, "a <title> & more"))


def test_each_evidence_has_a_bar_and_the_odd_one_is_dashed():
    root = drawn([Bar("wheels", ((1958, 1963),)), Bar("box", ((1966, None),), odd=True)])
    bars = [p for p in root.iter(f"{NS}path") if p.get("class").startswith("bar")]
    assert [b.get("class") for b in bars] == ["bar", "bar odd"]
    assert bars[1].get("stroke-dasharray")


def test_a_later_bar_lies_further_right_and_a_longer_one_is_longer():
    root = drawn([Bar("a", ((1950, 1955),)), Bar("b", ((1960, 1980),))])
    ends = [
        [float(x) for x in p.get("d")[1:].replace("H", " ").split()]
        for p in root.iter(f"{NS}path")
        if p.get("class") == "bar"
    ]
    (a_left, _, a_right), (b_left, _, b_right) = ends
    assert a_right < b_left
    assert (b_right - b_left) == pytest.approx((a_right - a_left) * 21 / 6, rel=0.05)


@pytest.mark.parametrize("label", ["<script>", "番号 & " * 30, '"quoted"', ""])
def test_any_label_is_safe_and_short(label):
    texts = [t.text or "" for t in drawn([Bar(label, ((1958, 1963),))]).iter(f"{NS}text")]
    assert texts[0] == label or (len(texts[0]) == 24 and texts[0].endswith("…"))


def test_nothing_at_all_is_still_a_drawing():
    assert drawn([], named=()).tag == f"{NS}svg"
