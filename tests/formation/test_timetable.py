"""Several trains from one shelf, what is missing, and the full-size train."""

from dataclasses import replace

import pytest

from outshop.formation.fullsize import compression, resistance_permille, trailing_tonnes
from outshop.formation.missing import missing
from outshop.formation.recipes import find_recipe
from outshop.formation.scene import Prototype, Section, Wish
from outshop.formation.timetable import fill_timetable

from .scenes import scene, vehicle

LINE = [Section(3000, 10)]


def shelf():
    kinds = ["coach-2"] * 4 + ["luggage"] * 2 + ["open", "covered", "tank", "brake-van"]
    return [vehicle(f"{k} {i}", kind=k) for i, k in enumerate(kinds)]


def asked(recipe, **wish):
    return scene(LINE, shelf(), loop_mm=700, year=1958, country="D", recipe=recipe, **wish)


def test_trains_of_a_timetable_share_no_vehicle_and_each_keeps_its_rules():
    questions = [asked("branch-passenger"), asked("branch-passenger"), asked("pick-up-goods")]
    filled = fill_timetable(questions, seconds=4)
    assert all(filled.trains)
    names = [v.name for train in filled.trains for v in train.vehicles]
    assert len(names) == len(set(names))
    assert all(j.met for t in filled.trains for j in t.judged if j.rule.strength == "forbidden")


def test_vehicle_fixed_for_one_train_is_not_taken_by_another():
    first, second = asked("branch-passenger"), asked("branch-passenger", fixed=("luggage 4",))
    filled = fill_timetable([first, second], seconds=4)
    assert "luggage 4" in [v.name for v in filled.trains[1].vehicles]
    assert "luggage 4" not in [v.name for v in filled.trains[0].vehicles]


def test_missing_brake_van_is_first_on_the_wish_list_of_a_british_goods_train():
    goods = [vehicle(f"{k} {i}", kind=k) for i, k in enumerate(("open", "covered", "tank"))]
    question = scene(LINE, goods, loop_mm=1200, year=1958, country="GB", recipe="gb-unfitted-goods")
    found = missing(question, find_recipe("gb-unfitted-goods"))
    assert found[0].kind == "brake-van"
    assert found[0].score_gain > 0


def test_whole_shelf_that_fits_misses_only_what_still_fits():
    question = replace(asked(None), wish=Wish(loop_mm=120.0 + 110 * 10))
    assert missing(question, None, seconds=3) == ()


def test_launhardt_and_grade_give_the_resistance_of_the_handbook_table():
    # Launhardt, Die technische Trassierung II p. 34: v 13 m/s -> 0.00494 of the weight
    task = Prototype(effort_kn=100, engine_t=80, speed_km_h=13 * 3.6)
    assert resistance_permille(task) == pytest.approx(4.94, abs=0.005)
    # Roeckl: R 500 m -> 1.461 per mille (standard gauge, 650 / (R - 55))
    curved = replace(task, radius_m=500, grade_permille=10)
    assert resistance_permille(curved) == pytest.approx(4.94 + 10 + 1.461, abs=0.006)


def test_trailing_mass_balances_pull_and_resistance():
    task = Prototype(effort_kn=98.0665, engine_t=80, speed_km_h=0, grade_permille=7.27)
    # 10 000 kgf over 2.73 + 7.27 kg/t is 1000 t, the engine included
    assert trailing_tonnes(task) == pytest.approx(920)


def test_real_limit_of_44_axles_as_a_five_coach_model():
    train = [vehicle(f"c{i}", 240, kind="coach-2") for i in range(5)]
    told = compression(train, find_recipe("express"), Wish(year=1955, speed_km_h=100), 87)
    # 5 four-axle coaches of the 44 axles allowed above 80 km/h by the German rules of 1905: 45 %
    assert told.axles == 20
    assert told.percent == pytest.approx(45, abs=0.5)
