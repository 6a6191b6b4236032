"""Formulas against the worked examples of their handbooks, named at each check."""

import pytest

from outshop.errors import InputError
from outshop.railway import resistance as res
from outshop.railway.masses import wagon_masses
from outshop.railway.scales import scale
from outshop.railway.speed_bands import speed_band
from outshop.railway.supply import Supply, mean_over_rms, nominal_voltage


@pytest.mark.parametrize(
    ("speed", "ratio"), [(7, 0.00337), (13, 0.00494), (18, 0.00697)]
)  # Die technische Trassierung II, p. 34: printed kg/kg
def test_launhardt_gives_the_printed_table(speed, ratio):
    assert res.launhardt_permille(speed) / 1000 == pytest.approx(ratio, abs=5e-6)


def test_streamlined_railcar_gives_the_printed_491_kg():
    """Die technische Trassierung II: 50 t, 10 m2, 125 km/h; 491 kg printed, 227 hp at W V/270."""
    resistance = res.railcar_kg(125, 50, 10)
    assert resistance == pytest.approx(491, abs=1)
    assert resistance * 125 / 270 == pytest.approx(227, abs=1)


def test_army_example_hauls_598_short_tons():
    """US Army TR0603 par. 2.11: 597.3, rounded up there to 598."""
    tons = res.trailing_short_tons(36_000, 120, grade_percent=1.5, curve_degree=10, weather=0.8)
    assert tons == pytest.approx(597.3, abs=0.1)


@pytest.mark.parametrize(
    ("args", "printed"),
    [
        pytest.param((195, 20, 24, 44, 0.85), 36_164, id="195 psi, recomputed"),
        pytest.param((80, 17, 24, 68, 1.0), 8_160, id="mean pressure 80 psi"),
        pytest.param((13.5, 47, 66, 152, 0.646), 8_363, id="13.5 kg per cm2 in kgf, not kN"),
    ],
)
def test_steam_effort_gives_the_published_examples(args, printed):
    assert res.steam_effort(*args) == pytest.approx(printed, rel=5e-4)


def test_degrees_of_curve_give_the_encyclopaedia_table():
    """Roell 1912; its 358 and 298 for five and six degrees are misprints for 349 and 291."""
    for degree, radius in enumerate((1746, 873, 582, 437, 349, 291, 250, 218, 194, 175), start=1):
        assert res.radius_of_degree_m(degree) == pytest.approx(radius, abs=1)


@pytest.mark.parametrize(
    ("radius", "permille"), [(1000, 0.688), (500, 1.461), (300, 1.852), (190, 3.125), (180, 3.333)]
)  # Roeckl's formula computed by hand
def test_roeckl_curve_resistance(radius, permille):
    assert res.roeckl_permille(radius) == pytest.approx(permille, abs=5e-4)
    with pytest.raises(ValueError, match="100 m"):
        res.roeckl_permille(50)


def test_davis_by_hand_calculation():
    assert res.davis_lb_per_ton(0, 10, 4, 90) == pytest.approx(4.20, abs=5e-3)
    assert res.davis_lb_per_ton(40, 10, 4, 90) == pytest.approx(7.80, abs=5e-3)
    assert res.davis_lb_per_ton(40, 17.5, 4, 90) == pytest.approx(5.79, abs=6e-3)
    assert res.modified_davis_lb_per_ton(40, 10, 4) == pytest.approx(5.80, abs=5e-3)
    assert res.modified_davis_lb_per_ton(50, 32.5, 4) == pytest.approx(3.06, abs=0.01)


def test_adhesion_falls_with_speed_as_tabled():
    """Curtius and Kniffler, from memory: 0.3315 at rest, 0.2215 at 80 km/h."""
    assert res.adhesion_curtius_kniffler(0) == pytest.approx(0.3315, abs=1e-4)
    assert res.adhesion_curtius_kniffler(80) == pytest.approx(0.2215, abs=1e-4)


@pytest.mark.parametrize(
    ("name", "top", "low", "high"),
    [
        ("H0", 140, 0.447, 0.581),
        ("N", 100, 0.1736, 0.2604),
        ("Z", 100, 0.1263, 0.2020),
        ("0", 100, 0.617, 0.679),
    ],
)
def test_nem_661_speed_band(name, top, low, high):
    band = speed_band(top, scale(name))
    assert (band.low_m_s, band.high_m_s) == pytest.approx((low, high), rel=2e-3)


def test_a_ratio_near_a_listed_one_takes_its_band_and_a_far_one_has_none():
    assert speed_band(100, scale("HO")).high_km_h == pytest.approx(130)
    assert speed_band(100, scale("1:100")) is None


def test_wagon_masses_give_the_worked_examples():
    """NEM 302 (2015): van 105 mm 42 g, coach 245 mm 98 g. RP-20.1: 6 in car 4.0 oz (113 g)."""
    nem = {r.rule: r.mass_g for r in wagon_masses("H0", 105)}
    assert nem["NEM302"] == pytest.approx(42)
    assert wagon_masses("H0", 245)[0].mass_g == pytest.approx(98)
    by_rule = {r.rule: r.mass_g for r in wagon_masses("HO", 152.4)}
    assert by_rule["RP-20.1"] == pytest.approx(113, abs=0.5)
    assert by_rule["NEM302"] == pytest.approx(61, abs=0.5)
    n = {r.rule: r.mass_g for r in wagon_masses("N", 3.65 * 25.4)}
    assert n["RP-20.1"] == pytest.approx(29.7, abs=0.1)
    with pytest.raises(InputError, match="length"):
        wagon_masses("H0", 0)


def test_nem_630_turns_a_half_wave_reading_of_18_75_v_into_12_v():
    assert mean_over_rms(Supply.HALF_WAVE) * 18.75 == pytest.approx(12.0)
    assert mean_over_rms(Supply.FULL_WAVE) * 13.33 == pytest.approx(12.0, abs=0.01)
    assert mean_over_rms(Supply.PWM, 0.25) == 0.5
    with pytest.raises(InputError, match="duty"):
        mean_over_rms(Supply.PWM)


@pytest.mark.parametrize(
    ("system", "gauge", "volts"),
    [("dc", 6.5, 8), ("dc", 16.5, 12), ("dc", 32, 16), ("ac", 16.5, 16)],
)
def test_nominal_voltages_of_nem_630_and_640(system, gauge, volts):
    assert nominal_voltage(system, gauge).voltage_v == volts
