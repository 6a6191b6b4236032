"""Scene files: what is read, and a clear sentence for each wrong entry."""

import pytest

from outshop.errors import InputError, TableError
from outshop.formation.compose import compose
from outshop.formation.reading import read_scene

GOOD = """
year = 1958
loop_mm = 1400
[[line]]
length_mm = 900
[[line]]
length_mm = 1200
grade_permille = 25
radius_mm = 437
[locomotive]
length_mm = 120
mass_g = 300
pull_g = 30
min_radius_mm = 360
couplings = ["loop", "loop"]
years = "1950/1968"
[[vehicle]]
name = "van 1"
kind = "covered"
years = "1948/1970"
length_mm = 110
mass_g = 60
rolling_permille = 20
min_radius_mm = 360
couplings = ["loop", "loop"]
[[vehicle]]
name = "van 2"
kind = "open"
years = "1948/.."
length_mm = 100
mass_g = 70
rolling_permille = "unknown"
couplings = ["loop", "hook"]
"""


def test_good_scene_is_read_as_written():
    read = read_scene(GOOD)
    assert [s.length_mm for s in read.line] == [900, 1200]
    assert read.line[0].radius_mm == 0
    assert read.locomotive.available_g == 30
    assert [v.name for v in read.vehicles] == ["van 1", "van 2"]
    assert read.vehicles[1].rolling is None
    assert any("van 2" in warning for warning in read.warnings)


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ("[[line]]", "[[track]]", "no sections"),
        ("radius_mm = 437", "radius_mm = 5", "radius of 5 mm"),
        ("radius_mm = 437", "radius_mm = -437", "radius of -437 mm"),
        ("grade_permille = 25", "grade_permille = 400", "400 per mille is steeper"),
        ("mass_g = 60", "", r"vehicle 1 \(van 1\) has no mass_g"),
        ("mass_g = 60", "mass_g = 0", "mass_g = 0 cannot be"),
        ("mass_g = 60", "mass_g = nan", "not a number"),
        ("length_mm = 110", "length_mm = -110", "length_mm = -110 cannot be"),
        ('years = "1948/1970"', 'years = "19y8"', "not a date"),
        ('years = "1948/1970"', 'years = "1970/1948"', "ends before it begins"),
        ("pull_g = 30", "pull_g = 30\nlow_g = 40", "does not lie between"),
        ("pull_g = 30", "", "no pull_g"),
        ("[locomotive]", "[engine]", r"no \[locomotive\]"),
        ("rolling_permille = 20", "rolling_permille = -1", "cannot be negative"),
        ('couplings = ["loop", "hook"]', 'couplings = ["loop"]', "must be two names"),
        ("year = 1958", 'year = "then"', "whole number"),
        ("loop_mm = 1400", "loop_mm = 0", "above 0"),
        ("year = 1958", "year = ", "not TOML"),
    ],
)
def test_wrong_entry_gives_a_sentence(old, new, sentence):
    with pytest.raises(TableError, match=sentence):
        read_scene(GOOD.replace(old, new))


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ('"loop", "hook"', '"unknown", "hook"', "couplings of 'van 2' are unknown"),
        ('couplings = ["loop", "hook"]', "", "couplings of 'van 2' are unknown"),
        ("year = 1958", 'year = 1958\nfixed = ["van 1"]\nforbidden = ["van 1"]', "both fixed"),
        ("year = 1958", 'year = 1958\nfixed = ["van 9"]', "not among the vehicles"),
        ("year = 1958", 'year = 1958\ntrain = "circus"', "no recipe 'circus'"),
        ('name = "van 2"', 'name = "van 1"', "two vehicles are called"),
    ],
)
def test_question_that_cannot_be_asked_gives_a_sentence(old, new, sentence):
    with pytest.raises(InputError, match=sentence):
        compose(read_scene(GOOD.replace(old, new)))


@pytest.mark.parametrize(
    ("old", "new", "why", "fix"),
    [
        ("year = 1958", "year = 1900", "not in 1900", "the year 1948"),
        ("mass_g = 300", "mass_g = 3000", "cannot climb section 2 alone", "ease the grade"),
        ("loop_mm = 1400", "loop_mm = 210", "loops take 210 mm", "a loop of 220 mm"),
        ("loop_mm = 1400", "loop_mm = 100", "the locomotive alone is 120 mm", "longer than 120"),
        (
            "min_radius_mm = 360\ncouplings",
            "min_radius_mm = 500\ncouplings",
            "radius of 500 mm",
            "widen the curve",
        ),
        ("pull_g = 30", "pull_g = 10", "must haul with 10 g", "a pull of 11"),
        ("year = 1958", 'year = 1958\ntrain = "branch-passenger"', "does not run in", "add one of"),
        ("year = 1958", 'year = 1900\nfixed = ["van 2"]', "'van 2' is fixed, but ran", "leave"),
    ],
)
def test_impossible_question_is_answered_with_why_and_the_smallest_fix(old, new, why, fix):
    answer = compose(read_scene(GOOD.replace(old, new)))
    assert answer.trains == ()
    assert answer.infeasible is not None
    assert any(why in sentence for sentence in answer.infeasible.why)
    assert any(fix in sentence for sentence in answer.infeasible.smallest_fix)


def test_clash_of_rule_and_shelf_names_the_rule_and_what_is_missing():
    text = GOOD.replace("year = 1958", 'year = 1958\ntrain = "gb-unfitted-goods"')
    answer = compose(read_scene(text))
    assert answer.infeasible is not None
    assert any("brake van" in sentence for sentence in answer.infeasible.why)
    assert any("add a vehicle of kind brake-van" in fix for fix in answer.infeasible.smallest_fix)


def test_two_fixed_vehicles_too_long_for_the_loop_clash_as_a_set():
    text = GOOD.replace("year = 1958", 'year = 1958\nfixed = ["van 1", "van 2"]')
    text = text.replace("loop_mm = 1400", "loop_mm = 300")
    why = compose(read_scene(text)).infeasible
    assert why is not None
    assert len(why.why) == 3  # the loop and both vehicles, and nothing else
    assert any("a loop of 330 mm" in fix for fix in why.smallest_fix)
