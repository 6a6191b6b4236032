"""Comparables and the value drawn from them."""

from datetime import date, timedelta
from decimal import Decimal

import numpy as np
import pytest

from outshop.errors import InputError, TableError
from outshop.estimate import Estimate, NotMeasurable
from outshop.market.comparables import Comparable, read_comparables, safe_cell
from outshop.market.value import Subject, value_piece

HEAD = "date,price,currency,edition,condition,box,papers,working,source\n"
LINE = "2024-05-31,120.00,EUR,first,good,yes,no,yes,saleroom note\n"
TODAY = date(2026, 1, 1)


def test_a_good_table_is_read():
    (sale,), warnings = read_comparables(HEAD + LINE)
    assert sale.price == Decimal("120.00")
    assert (sale.condition, sale.box, sale.papers) == (0.55, True, False)
    assert warnings == []


def test_a_semicolon_table_with_decimal_commas_is_read():
    text = (HEAD + LINE).replace(",", ";").replace("120.00", "1.120,50")
    assert read_comparables(text)[0][0].price == Decimal("1120.50")


def test_five_comparables_that_are_one_sale_count_once():
    sales, warnings = read_comparables(HEAD + LINE * 5)
    assert len(sales) == 1
    assert warnings == ["4 of 5 entries tell a sale that is already there"]


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ("2024-05-31", "", "line 2: the date is missing"),
        ("2024-05-31", "31.5.24", "line 2: '31.5.24' is no day"),
        ("120.00", "-5", "line 2: a price cannot be negative"),
        ("120.00", "=1+1", "line 2.*looks like a formula"),
        ("120.00", "0", "line 2: a sale needs a price above 0"),
        ("EUR", "EURO", "line 2.*no currency code"),
        ("good", "lovely", "line 2: condition 'lovely' must be one of"),
        ("yes,no", "maybe,no", "line 2: box must be yes or no"),
        ("date,", "day,", "date is missing"),
    ],
)
def test_a_bad_line_is_named(old, new, sentence):
    with pytest.raises(TableError, match=sentence):
        read_comparables((HEAD + LINE).replace(old, new, 1))


@pytest.mark.parametrize("cell", ["=1+1", "+1", "-1", "@x", "\t=1"])
def test_formulas_are_never_exported_live(cell):
    assert safe_cell(cell) == "'" + cell
    assert safe_cell("van no. 7") == "van no. 7"


def market(rng, count, box=0.25, condition=1.2, noise=0.25):
    """Sales drawn from a known law, independently of the code under test."""
    sales = []
    for _ in range(count):
        c, b, p, w = rng.uniform(0.2, 1), *(rng.random(3) < 0.5)
        price = np.exp(4 + condition * c + box * b + 0.05 * p + 0.3 * w + noise * rng.normal())
        day = TODAY - timedelta(days=int(rng.integers(0, 2000)))
        sales.append(Comparable(day, Decimal(f"{price:.2f}"), "EUR", "x", c, b, p, w))
    return sales


@pytest.mark.parametrize("count", [4, 12, 60])
def test_eighty_percent_intervals_hold_one_more_sale(rng, count):
    hits = []
    for _ in range(250):
        sales = market(rng, count + 1)
        last = sales.pop()
        subject = Subject(last.condition, last.box, last.papers, last.working)
        price = value_piece(sales, subject, TODAY).price
        assert isinstance(price, Estimate)
        hits.append(price.low <= float(last.price) <= price.high)
    assert 0.73 <= np.mean(hits) <= 0.93


def test_many_sales_override_the_belief(rng):
    fit = value_piece(market(rng, 800, box=0.8), Subject(1, True, True, True), TODAY).fit
    assert fit.coefficient("box").low < 0.8 < fit.coefficient("box").high + 0.05


def test_too_few_sales_are_said_to_be_too_few(rng):
    found = value_piece(market(rng, 2), Subject(1, True, True, True), TODAY)
    assert isinstance(found.price, NotMeasurable)
    assert "2 sales are too few" in found.price.reason


def test_sales_in_two_currencies_are_not_mixed(rng):
    sales = market(rng, 4)
    sales[0] = Comparable(TODAY, Decimal(10), "GBP", "x", 0.5, True, True, True)
    with pytest.raises(InputError, match="EUR and GBP"):
        value_piece(sales, Subject(1, True, True, True), TODAY)


def test_a_better_piece_is_never_worth_less(rng):
    sales = market(rng, 30)
    poor = value_piece(sales, Subject(0.2, False, False, False), TODAY).price
    fine = value_piece(sales, Subject(1.0, True, True, True), TODAY).price
    assert fine.value > poor.value


def test_a_condition_part_by_part_is_weighed_by_hand():
    """Looks three times, technique twice, packing once: (3 x 0.55 + 2 x 0.35 + 0.4) / 6."""
    text = (HEAD + LINE).replace("good", "body good; mechanism fair; box 0.4")
    (sale,), _ = read_comparables(text)
    assert sale.parts == (("body", 0.55), ("mechanism", 0.35), ("box", 0.4))
    assert sale.condition == pytest.approx((3 * 0.55 + 2 * 0.35 + 0.4) / 6)


@pytest.mark.parametrize("text", ["body lovely; box good", "good; box good", "body"])
def test_a_part_without_name_or_grade_is_refused(text):
    with pytest.raises(TableError, match="line 2: condition"):
        read_comparables((HEAD + LINE).replace("good", text))
