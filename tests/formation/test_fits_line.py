"""Platforms and couplers of the line, and the full-size train beside the model's."""

from dataclasses import replace

import pytest

from outshop.errors import TableError
from outshop.formation.assess import assess
from outshop.formation.reading import read_scene
from outshop.formation.scene import Prototype, Section

from .scenes import scene, vehicle

LINE = [Section(3000, 10)]
GOOD = """
[[line]]
length_mm = 1000
[locomotive]
length_mm = 120
mass_g = 300
pull_g = 30
"""


def verdict(asked, what):
    return {f.what: f.met for f in assess(asked).fits}.get(what, "not asked")


def test_platform_takes_what_lies_between_first_and_last_coach():
    train = [vehicle("van", 90, kind="luggage"), vehicle("a", 130, kind="coach-2"),
             vehicle("mail", 100, kind="mail"), vehicle("b", 130, kind="coach-3")]  # fmt: skip
    assert verdict(scene(LINE, train, platform_mm=360.0), "platform") is True
    assert verdict(scene(LINE, train, platform_mm=359.9), "platform") is False
    assert verdict(scene(LINE, train), "platform") == "not asked"
    assert verdict(scene(LINE, train[:1], platform_mm=10.0), "platform") == "not asked"


def test_coupling_that_the_line_cannot_uncouple_is_named():
    train = [vehicle("a"), vehicle("b", couplings=("loop", "hook"))]
    assert verdict(scene(LINE, train, couplers=("loop", "hook")), "couplers") is True
    found = [f for f in assess(scene(LINE, train, couplers=("loop",))).fits if f.what == "couplers"]
    assert found[0].met is False
    assert found[0].why.endswith("not b")
    unknown = [vehicle("c", couplings=("loop", ""))]
    assert verdict(scene(LINE, unknown, couplers=("loop",)), "couplers") is None


def test_full_size_train_weighs_what_pull_and_resistance_allow():
    # 10 000 kgf over 2.73 + 7.27 kg/t is 1000 t, the engine included; Launhardt at rest 2.73
    # (Die technische Trassierung II): 920 t behind an engine of 80 t
    train = [vehicle("a", real_tonnes=20.0), vehicle("b", real_tonnes=26.0)]
    real = Prototype(effort_kn=98.0665, engine_t=80, speed_km_h=0, grade_permille=7.27)
    told = assess(replace(scene(LINE, train), prototype=real)).as_json()["full_size"]
    assert told["trailing_t"] == pytest.approx(920)
    assert told["train_t"] == 46
    assert told["tonnes_percent"] == pytest.approx(5)
    assert told["real_length_m"] == pytest.approx(0.22 * 87)


def test_vehicle_of_unknown_real_mass_leaves_the_tonnage_unknown():
    train = [vehicle("a", real_tonnes=20.0), vehicle("b")]
    told = assess(scene(LINE, train)).as_json()["full_size"]
    assert told["trailing_t"] is told["train_t"] is told["tonnes_percent"] is None


def test_scene_file_takes_platform_couplers_and_prototype():
    top = 'platform_mm = 500\ncouplers = ["loop"]\nscale = 160\n'
    real = "[prototype]\neffort_kn = 90\nengine_t = 60\nspeed_km_h = 40\n"
    read = read_scene(top + GOOD + real)
    assert (read.wish.platform_mm, read.wish.couplers, read.scale) == (500, ("loop",), 160)
    assert read.prototype == Prototype(90, 60, 40)


@pytest.mark.parametrize(
    ("extra", "sentence"),
    [
        ("[prototype]\neffort_kn = 90\n", "the prototype has no engine_t"),
        ("[prototype]\neffort_kn = -1\nengine_t = 60\n", "effort_kn = -1"),
    ],
)
def test_prototype_that_cannot_be_gives_a_sentence(extra, sentence):
    with pytest.raises(TableError, match=sentence):
        read_scene(GOOD + extra)


def test_platform_below_zero_gives_a_sentence():
    with pytest.raises(TableError, match="platform_mm = -5"):
        read_scene("platform_mm = -5\n" + GOOD)
