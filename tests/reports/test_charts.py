"""Charts are the same bytes each time, say in words what they show, and take odd data."""

import xml.etree.ElementTree as ET

import numpy as np
import pytest

from outshop.errors import InputError
from outshop.estimate import Estimate, NotMeasurable
from outshop.reports.charts import (
    PAGE,
    PRINT,
    interval_strip,
    settling_chart,
    spectrum_overlay,
)
from outshop.workshop.settling import fit_settling

BEFORE = Estimate.plus_minus(61.3, 0.4, "dB(A)")
AFTER = Estimate.plus_minus(57.2, 0.3, "dB(A)")
NONE = NotMeasurable("too quiet", "dB(A)")
SVG = "{http://www.w3.org/2000/svg}"


def lines_of(svg):
    """The horizontal strokes of a strip: (x from, length)."""
    found = []
    for line in ET.fromstring(svg).iter(f"{SVG}line"):
        x = float(line.get("transform").split("(")[1].split(",")[0])
        found.append((x, float(line.get("x2"))))
    return found


def test_a_strip_draws_both_intervals_to_one_scale():
    (x_before, w_before), (x_after, w_after) = lines_of(interval_strip(BEFORE, AFTER))
    assert w_before / w_after == pytest.approx(0.8 / 0.6)
    scale = w_before / 0.8
    assert (x_before - x_after) / scale == pytest.approx(60.9 - 56.9)


def test_what_cannot_be_measured_is_left_out_of_the_drawing_but_said():
    svg = interval_strip(NONE, AFTER)
    assert len(lines_of(svg)) == 1
    assert "before – dB(A)" in svg
    assert interval_strip(NONE, NONE) == ""


@pytest.mark.parametrize("palette", [PAGE, PRINT], ids=["page", "print"])
def test_the_same_data_draw_the_same_bytes_without_style_or_script(palette):
    strip = [interval_strip(BEFORE, AFTER, palette=palette) for _ in range(2)]
    curve = [spectrum_overlay([1, 10], [3, 4], [2, 5], palette=palette) for _ in range(2)]
    assert strip[0] == strip[1]
    assert curve[0] == curve[1]
    root = ET.fromstring(strip[0])
    for element in [*root.iter(), *ET.fromstring(curve[0]).iter()]:
        assert "style" not in element.attrib
        assert element.tag not in {f"{SVG}style", f"{SVG}script", f"{SVG}image"}
    assert root.get("role") == "img"
    assert "before 61.3 ±0.4" in root.get("aria-label")


def test_page_drawings_take_their_colours_from_the_style_sheet():
    svg = interval_strip(BEFORE, AFTER)
    assert "currentColor" in svg
    assert "var(--accent)" in svg
    assert "#0102" not in svg


def test_names_with_markup_stay_text():
    name = '<script>"&amp;</script>'
    svg = spectrum_overlay([1, 10], [3, 4], [2, 5], marks=[(name, 5.0)])
    assert name in "".join(ET.fromstring(svg).itertext())
    assert "<script>" not in svg


def test_a_peak_survives_the_thinning_of_a_fine_spectrum():
    f = np.arange(1, 100_001, dtype=float)
    flat = np.zeros_like(f)
    peak = flat.copy()
    peak[54_321] = 60.0
    svg = spectrum_overlay(f, flat, peak)
    top = spectrum_overlay([1, 10, 100], [0, 0, 0], [0, 60, 0])
    assert min(y_of(svg)) == pytest.approx(min(y_of(top)))
    assert len(svg) < 60_000


def y_of(svg):
    """Every height in the drawn curves, in pixels from the top."""
    paths = [p.get("d") for p in ET.fromstring(svg).iter(f"{SVG}path") if "L" in p.get("d", "")]
    return [float(p.split(",")[1]) for d in paths for p in d.replace("M", "L").split("L")[1:]]


def test_a_spectrum_leaves_out_what_is_not_finite_and_refuses_nonsense():
    svg = spectrum_overlay([0, 10, 100, 1000], [1, np.nan, 2, 3], [1, 2, -np.inf, 3])
    assert "nan" not in svg.lower()
    with pytest.raises(InputError, match="of one length"):
        spectrum_overlay([1, 2], [1], [1, 2])
    with pytest.raises(InputError, match="at least one finite level"):
        spectrum_overlay([0.0], [1.0], [1.0])


def test_a_settling_chart_draws_every_reading_and_a_curve_where_there_is_one():
    minutes = list(range(1, 13))
    falling = [0.2 + 0.1 * 0.7**t for t in minutes]
    none = NotMeasurable("too few", "min")
    with_curve = settling_chart(
        [("forward", minutes, falling, fit_settling(minutes, falling))], "A"
    )
    without = settling_chart([("forward", minutes, falling, none)], "A")
    both = settling_chart([("forward", minutes, falling, none), ("reverse", [1], [0.3], none)], "A")
    marks = [svg.count("opacity") for svg in (without, both)]
    assert marks[1] > marks[0]
    assert len(y_of(with_curve)) > len(y_of(without))
    assert "forward, reverse" in both
    for count in (0, 3):
        with pytest.raises(InputError, match=f"one or two directions; got {count}"):
            settling_chart([("forward", minutes, falling, none)] * count, "A")
