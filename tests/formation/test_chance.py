"""Chance of getting round against a simulation that draws every figure."""

import math
import random
from dataclasses import replace

import pytest

from outshop.formation.chance import chance
from outshop.formation.haul import haul
from outshop.formation.hazards import current_drawn, pulled_inward, start_on_grade
from outshop.formation.helps import remedies
from outshop.formation.scene import Locomotive, Range, Section

from .scenes import needed_at_crossings, scene, vehicle

LINE = [Section(800, 0), Section(700, 20, 437), Section(600, -15, 360)]


def uncertain():
    train = tuple(
        replace(vehicle(f"w{i}", 110, 60 + 5 * i), rolling=Range(20, 14, 26)) for i in range(5)
    )
    asked = scene(LINE, train)
    return replace(asked, locomotive=Locomotive(120, 300, 27, 25, 29))


def simulated(asked, rng, runs=4000):
    hits = 0
    for _ in range(runs):
        pull = rng.gauss(27, 4 / (2 * 1.959964))
        common = math.exp(rng.gauss(0, math.log(2) / 1.959964))
        train = []
        for v in asked.vehicles:
            value = 20 * common if v.rolling is None else rng.gauss(20, 12 / (2 * 1.959964))
            train.append(replace(v, rolling=Range(value, value, value)))
        hits += needed_at_crossings(asked, train) <= pull
    return hits / runs


def test_chance_agrees_with_simulation():
    asked = uncertain()
    expected = simulated(asked, random.Random(5), 1500)
    assert 0.1 < expected < 0.95
    # 1500 runs: standard error below 0.013
    assert chance(asked, asked.vehicles).probability == pytest.approx(expected, abs=0.045)


def test_unmeasured_wagons_share_one_error():
    asked = uncertain()
    asked = replace(asked, vehicles=tuple(replace(v, rolling=None) for v in asked.vehicles))
    expected = simulated(asked, random.Random(6), 1500)
    assert chance(asked, asked.vehicles).probability == pytest.approx(expected, abs=0.045)


def test_known_figures_leave_no_doubt():
    asked = scene([Section(1000)], [vehicle(mass=600)], pull=12)
    assert chance(asked, asked.vehicles).probability == 1
    weak = replace(asked, locomotive=replace(asked.locomotive, pull_g=11.9))
    assert chance(weak, asked.vehicles).probability == 0


def test_interval_of_the_force_holds_the_value():
    asked = uncertain()
    found = chance(asked, asked.vehicles)
    assert found.needed_low_g < haul(asked).needed_g < found.needed_high_g


def test_starting_needs_rolling_times_the_start_factor_at_the_worst_place():
    asked = scene([Section(3000, 20)], [vehicle(mass=500, rolling=20)], engine_mass=300)
    # 500 g x (1.5 x 20 + 20) + 300 g x 20, per mille
    assert start_on_grade(asked, asked.vehicles).needed_g == pytest.approx(25 + 6)


def test_light_wagon_in_front_of_heavy_ones_is_pulled_inward_and_not_at_the_end():
    heavy = [vehicle(f"h{i}", 110, 150, 30) for i in range(12)]
    light = vehicle("light", 150, 15, 20)
    line = [Section(3000, 30, 360)]
    front = scene(line, [light, *heavy])
    back = scene(line, [*heavy, light])
    assert [p.vehicle for p in pulled_inward(front, front.vehicles)][:1] == ["light"]
    assert "light" not in [p.vehicle for p in pulled_inward(back, back.vehicles)]


def test_tipping_share_follows_the_balance_of_moments():
    # tension T = 2 x 100 g x 30 + curve; share = T l / (R m) x height / half gauge
    asked = scene([Section(9000, 0, 400)], [vehicle(f"w{i}", 200, 10, 400) for i in range(2)])
    share = pulled_inward(asked, asked.vehicles)
    assert share == ()
    heavy = scene([Section(9000, 0, 400)], [vehicle("a", 200, 10, 0), vehicle("b", 200, 500, 30)])
    tension = (10 * 8128 / 400 + 500 * (30 + 8128 / 400)) / 1000
    found = pulled_inward(heavy, heavy.vehicles)
    assert found[0].tension_g == pytest.approx(tension)
    assert found[0].tipping_share == pytest.approx(tension * 200 / 400 / 10 * 8.5 / 8.25)


def test_lit_coaches_and_engine_are_held_against_the_supply():
    lit = [vehicle(f"c{i}", current_a=0.1) for i in range(4)]
    asked = replace(scene([Section(1000)], lit), supply_a=0.8)
    asked = replace(asked, locomotive=replace(asked.locomotive, current_a=0.5))
    drawn = current_drawn(asked, asked.vehicles)
    assert drawn.drawn_a == pytest.approx(0.9)
    assert drawn.enough is False


def test_remedies_each_raise_the_margin_and_the_best_comes_first():
    asked = uncertain()
    asked = replace(asked, locomotive=replace(asked.locomotive, pull_g=22, low_g=21, high_g=23))
    before = haul(asked)
    found = remedies(asked, asked.vehicles)
    assert any(r.what.startswith("leave off") for r in found)
    assert all(r.haul.margin_percent > before.margin_percent for r in found)
    hauls = [r.haul.verdict == "hauls" for r in found]
    assert hauls == sorted(hauls, reverse=True)
