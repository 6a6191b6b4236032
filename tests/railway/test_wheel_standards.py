"""Checked against NEM 310 (2009, 1977), NMRA S-4.2 and RP-25 as published."""

import pytest

from outshop.errors import InputError
from outshop.railway.tables import rows
from outshop.railway.wheel_standards import QUANTITIES, wheel_standard


@pytest.mark.parametrize(
    ("name", "gauge", "quantity", "low", "high"),
    [
        ("NEM310", 16.5, "back_to_back", 14.4, 14.6),
        ("NEM310", 9, "back_to_back", 7.4, 7.6),
        ("nem 310", 6.5, "flange_height", 0.5, 0.6),
        ("NEM310:1977", 16.5, "back_to_back", 14.3, 14.5),
        ("NEM 310 (1977)", 45, "check_gauge", None, 41.8),
        ("NEM310", 127, "tyre_width", 14.5, 16.5),
        ("S-4.2", 16.5, "back_to_back", 14.3764, None),  # .566 in
        ("NMRA S-4.2", 9, "check_gauge", None, 8.2042),  # .323 in
        ("RP-25", 16.5, "flange_height", None, 0.635),  # code 110, .025 in
    ],
)
def test_limits_are_those_of_the_sheet(name, gauge, quantity, low, high):
    limit = wheel_standard(name, gauge).limit(quantity)
    assert (limit.low_mm, limit.high_mm) == (low, high)


def test_a_size_tells_two_rows_of_one_gauge_apart():
    assert wheel_standard("S-4.2", 6.5, "Z").limit("back_to_back").low_mm == pytest.approx(5.5372)
    assert wheel_standard("S-4.2", 6.5, "Nn3").limit("back_to_back").low_mm == pytest.approx(5.2832)
    assert wheel_standard("RP-25", 16.5, "88").limit("flange_height").high_mm == pytest.approx(
        0.5842
    )


@pytest.mark.parametrize(
    ("name", "gauge", "size", "says"),
    [("NEM310", 15, "", "15 mm"), ("DIN 7", 16.5, "", "DIN 7"), ("RP-25", 16.5, "999", "999")],
)
def test_unknown_standards_gauges_and_sizes_are_named(name, gauge, size, says):
    with pytest.raises(InputError, match=says):
        wheel_standard(name, gauge, size)


def test_check_gauge_is_back_to_back_and_flange_within_what_the_sheet_allows():
    """NEM 310: K is B + T, though not at arbitrary pairs; the middles agree within 0.1 mm."""
    for gauge in (6.5, 9, 12, 16.5):
        limits = wheel_standard("NEM310", gauge)
        middle = {
            x.quantity: (x.low_mm + x.high_mm) / 2 for x in limits.limits if x.low_mm and x.high_mm
        }
        summed = middle["back_to_back"] + middle["flange_thickness"]
        assert summed == pytest.approx(middle["check_gauge"], abs=0.12)


def test_table_rows_are_in_order():
    for row in rows("wheels"):
        assert row["quantity"] in QUANTITIES
        assert row["source"]
        if row["low_mm"] and row["high_mm"]:
            assert float(row["low_mm"]) < float(row["high_mm"])
