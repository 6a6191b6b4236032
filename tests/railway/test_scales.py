"""Checked against NEM 010 (2011) and plain arithmetic."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from outshop.errors import NotationError
from outshop.railway.scales import (
    all_scales,
    gauge_for,
    gauges,
    model_speed_m_s,
    scale,
    scale_speed_km_h,
)

# NEM 010, edition 2011: name, ratio, standard gauge
NEM_010 = [
    ("Z", 220, 6.5), ("N", 160, 9), ("TT", 120, 12), ("H0", 87, 16.5), ("S", 64, 22.5),
    ("0", 45, 32), ("I", 32, 45), ("II", 22.5, 64), ("III", 16, 89), ("V", 11, 127),
    ("VII", 8, 184), ("X", 5.5, 260),
]  # fmt: skip


@pytest.mark.parametrize(("name", "ratio", "gauge"), NEM_010)
def test_nem_010_names_give_ratio_and_standard_gauge(name, ratio, gauge):
    found = scale(name)
    assert (found.name, found.ratio, found.system) == (name, ratio, "NEM")
    assert gauges(found)[0].gauge_mm == gauge
    assert gauge_for(found, 1435).gauge_mm == gauge


@pytest.mark.parametrize(
    ("typed", "ratio"),
    [("HO", 87.1), ("h0", 87), ("ho", 87.1), ("00", 76.2), ("OO", 76.2), ("O", 48), ("1:87", 87),
     ("1/160", 160), ("87", 87), ("87,1", 87.1), ("1 : 76.2", 76.2), ("1", 32), ("G", 22.5),
     ("british 0", 43.5), ("British N", 148), (87, 87), (43.5, 43.5), ("1:50", 50), ("tt", 120)],
)  # fmt: skip
def test_what_people_type_finds_the_ratio(typed, ratio):
    assert scale(typed).ratio == pytest.approx(ratio)


@pytest.mark.parametrize("typed", ["", "XX", "1:0", "1:5000", "-87", "87:1", "nan", 0, 1e9])
def test_what_is_no_scale_is_refused(typed):
    with pytest.raises(NotationError, match=r"scale|1:"):
        scale(typed)


def test_narrow_gauge_is_chosen_by_the_full_size_gauge():
    """NEM 010: 1000 mm in H0 is m on 12 mm, 750 mm is e on 9 mm, 600 mm is i on 6.5 mm."""
    h0 = scale("H0")
    found = [(gauge_for(h0, g).suffix, gauge_for(h0, g).gauge_mm) for g in (1000, 750, 600)]
    assert found == [("m", 12), ("e", 9), ("i", 6.5)]
    assert gauge_for(h0, 100) is None


def test_scale_speed_follows_the_hand_calculation():
    """60 km/h in 1:87 is 0.1916 m/s: 60 / 3.6 / 87."""
    assert model_speed_m_s(60, 87) == pytest.approx(0.19157, rel=1e-4)
    assert scale_speed_km_h(0.447, scale("H0")) == pytest.approx(140, rel=1e-3)  # NEM 661 check


@given(st.floats(0.001, 10), st.floats(1, 1000))
def test_scale_speed_goes_both_ways(speed, ratio):
    assert model_speed_m_s(scale_speed_km_h(speed, ratio), ratio) == pytest.approx(speed)


@given(st.floats(0.1, 1e5), st.sampled_from(all_scales()))
def test_lengths_go_both_ways(length, of):
    assert of.full_size_mm(of.model_mm(length)) == pytest.approx(length)


def test_each_row_has_a_source_and_a_name_that_finds_it():
    for one in all_scales():
        assert one.source
        assert scale(one.name) == one
