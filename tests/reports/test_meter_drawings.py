"""Drawings of the meter page are well-formed, escaped, and show what they should."""

import xml.etree.ElementTree as ET

import pytest

from outshop.reports.meter_drawings import armature, speed_lines

CURVES = {12: [(0, 191), (1.2, 0)], 6: [(0, 95), (0.6, 0)]}


def test_speed_lines_have_a_line_a_voltage_and_a_mark_a_point():
    svg = ET.fromstring(speed_lines(CURVES, [(12, 0.12, 172), (6, 0.6, 0)], 0.12))
    marks = svg.findall("circle") + svg.findall("rect")
    assert len(marks) == 2
    assert {t.text for t in svg.findall("text")} >= {"12 V", "6 V"}


def test_held_points_lie_on_the_current_axis():
    svg = ET.fromstring(speed_lines(CURVES, [(6, 0.6, 0.0), (12, 0.12, 172.0)]))
    held = float(svg.find("rect").get("y")) + 5
    running = float(svg.find("circle").get("cy"))
    assert running < held  # up is fast


@pytest.mark.parametrize("connection", ["delta", "star"])
@pytest.mark.parametrize("n", [3, 5, 13])
def test_an_armature_has_a_coil_a_label_and_marks_only_the_suspects(n, connection):
    svg = ET.fromstring(armature(["6 <Ω"] * n, [2], connection))
    coils = svg.findall("path")
    assert len(coils) == n
    assert [c.get("class") for c in coils].count("ring stop") == 1
    assert "2: 6 <Ω" in {t.text for t in svg.findall("text")}
