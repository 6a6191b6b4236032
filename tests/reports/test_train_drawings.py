"""Trains and lines as drawn: lengths to scale, curves that close, the force and what is left."""

import itertools
import math
import re
from itertools import chain

import pytest
from hypothesis import given
from hypothesis import strategies as st

from outshop.formation.kinds import kinds
from outshop.formation.scene import Locomotive, Range, Scene, Section, Vehicle
from outshop.formation.walk import prepare, walk
from outshop.reports.force import Words, force_svg, margins
from outshop.reports.line import Drawn, plan_svg, profile_svg, track
from outshop.reports.sides import WHEEL_MM, Side, side
from outshop.reports.train import Body, train_svg


@pytest.mark.parametrize("side", ["left", "right"])
def test_twelve_curves_of_thirty_degrees_close_a_circle(side):
    arc = math.radians(30) * 400
    pieces = track([Section(arc, 0, 400)] * 12, [side] * 12)
    assert pieces[-1][-1] == pytest.approx((0, 0), abs=1e-6)
    # the far side of a circle lies two radii away: left is up on the sheet, right is down
    far = pieces[5][-1]
    assert far == pytest.approx((0, -800 if side == "left" else 800), abs=1e-6)


@given(st.lists(st.sampled_from([0.0, 360.0, 600.0]), min_size=1, max_size=8))
def test_a_line_turned_the_other_way_is_its_mirror_image(radii):
    line = [Section(250, 0, r) for r in radii]
    left, right = (track(line, [side] * len(line)) for side in ("left", "right"))
    for one, other in zip(chain(*left), chain(*right), strict=True):
        assert one == pytest.approx((other[0], -other[1]), abs=1e-9)


def test_every_kind_is_drawn_as_long_as_its_model():
    bodies = [Body("engine", "engine", 118, 5)]
    bodies += [Body(k, k, 90 + n) for n, k in enumerate(kinds())]
    svg = train_svg(bodies, title="all")
    widths = [float(w) for w in re.findall(r'class="touch"[^>]*width="([\d.]+)"', svg)]
    assert widths == [b.length_mm for b in bodies]
    assert svg.count(" mm</tspan>") == len(bodies)


def test_each_kind_of_engine_has_a_shape_of_its_own_and_wheels_that_do_not_overlap():
    kinds_of_engine = ("engine", "engine-electric", "engine-diesel", "engine-railcar")
    shapes = [side(Side(kind, 0.0, 200.0, 56.0, 6)) for kind in kinds_of_engine]
    assert len(set(shapes)) == 4
    for shape in shapes:
        wheels = [(float(x), float(r)) for x, r in re.findall(r"M([\d.]+) [\d.]+a([\d.]+) ", shape)]
        wheels = sorted(x + r for x, r in wheels if r == WHEEL_MM)
        assert len(wheels) == 6
        assert all(b - a > 2 * WHEEL_MM for a, b in itertools.pairwise(wheels))


def test_a_name_is_cut_to_its_vehicle_and_never_read_as_markup():
    svg = train_svg([Body("<b>" + "long name " * 20, "tank", 60)], title='a "train"')
    assert "<b>" not in svg
    assert "…" in svg
    assert 'aria-label="a &quot;train&quot;"' in svg


def test_a_turned_vehicle_is_drawn_as_its_mirror_image_about_its_own_middle():
    svg = train_svg([Body("van", "brake-van", 100, turned=True)], title="t")
    shift = float(re.search(r"matrix\(-1 0 0 1 ([\d.]+) 0\)", svg)[1])
    left = float(re.search(r'class="touch" x="([\d.]+)"', svg)[1])
    assert shift == 2 * left + 100


def climb() -> Scene:
    """One wagon of 100 g at 20 per mille behind 300 g with 10 gf: level, then 10 per mille."""
    wagon = Vehicle("wagon", 100, 100, rolling=Range(20, 20, 20))
    engine = Locomotive(100, 300, 10.0)
    return Scene((Section(1000), Section(1000, 10)), engine, (wagon,))


def test_what_is_left_of_the_pull_by_section_is_what_the_sum_by_hand_gives():
    scene = climb()
    profile = prepare(scene.line)
    places = walk(profile, scene.locomotive, scene.vehicles)
    # level: 100 x 20 / 1000 = 2 gf of 10; on the grade 400 x 10 / 1000 = 4 gf more
    assert margins(profile, places, 10.0) == pytest.approx([80, 40])


def test_the_force_drawing_tells_the_worst_place_and_the_train_before():
    scene = climb()
    words = Words("pull", "needs", "left")
    svg = force_svg(scene, scene.vehicles, title="force", words=words, before=())
    assert "needs 6 g, 40 % left" in svg
    assert "80 %" in svg
    assert svg.count('class="ink thin was"') == 1
    weak = force_svg(
        Scene(scene.line, Locomotive(100, 300, 5.0), scene.vehicles), scene.vehicles,
        title="force", words=words,
    )  # fmt: skip
    assert "needs 6 g, -20 % left" in weak
    assert 'class="spare"' not in weak


def test_plan_and_profile_mark_the_worst_and_what_lies_beside_the_track():
    line = [Section(500), Section(500, 20, 400), Section(500, -10)]
    drawn = Drawn(sides=["left"] * 3, places=["loop", "", "platform"], worst=[2], chosen=3)
    plan, profile = (draw(line, title="x", drawn=drawn) for draw in (plan_svg, profile_svg))
    for svg in (plan, profile):
        assert svg.count('class="ring stop"') == 1
        assert svg.count('class="ring chosen"') == 1
    assert plan.count("thin loop") == plan.count("thin platform") == 1
    assert "+20 ‰" in profile
    assert "-10 ‰" in profile
    assert "R 400" in profile
