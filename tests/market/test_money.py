"""Money as people write it, exactly."""

from decimal import Decimal

import pytest
from babel.numbers import get_currency_precision, list_currencies
from hypothesis import given
from hypothesis import strategies as st

from outshop.errors import InputError, NotationError
from outshop.market.money import convert, currency, read_amount

EUR = currency("EUR")


@pytest.mark.parametrize(
    ("text", "amount"),
    [
        ("1234.56", "1234.56"),
        ("1,234.56", "1234.56"),  # as in Britain
        ("1.234,56", "1234.56"),  # as in Germany
        ("1'234.56", "1234.56"),  # as in Switzerland
        ("1 234,56", "1234.56"),  # as in France
        ("1\u202f234\u202f567,5", "1234567.5"),
        ("1,234", "1234"),
        ("1.234", "1234"),
        ("1.234.567", "1234567"),
        ("12,50", "12.50"),
        ("0.125", "0.125"),
        ("0", "0"),
    ],
)
def test_thousand_separators_of_several_countries(text, amount):
    assert read_amount(text, EUR) == Decimal(amount)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("-5", "cannot be negative"),
        ("=2+3", "looks like a formula"),
        ("@SUM(A1)", "looks like a formula"),
        ("12,34,56", "three digits"),
        ("1,234.567.890", "mixes its separators"),
        ("ten", "is no amount"),
        ("", "is no amount"),
        ("1e5", "is no amount"),
        ("9" * 30, "larger than any price"),
    ],
)
def test_what_is_no_amount_is_refused(text, sentence):
    with pytest.raises(NotationError, match=sentence):
        read_amount(text, EUR)


def test_a_lone_separator_before_three_digits_is_doubtful_where_money_has_three_places():
    with pytest.raises(NotationError, match="leave no doubt"):
        read_amount("1.234", currency("KWD"))


@given(st.decimals(0, 10**9, places=2, allow_nan=False))
def test_round_trip_in_british_and_german_writing(amount):
    british = f"{amount:,.2f}"
    german = british.translate(str.maketrans(",.", ".,"))
    assert read_amount(british, EUR) == amount
    assert read_amount(german, EUR) == amount


def test_codes_exist_in_an_independent_table():
    """Source: CLDR as shipped by Babel; ZWG and XCG are newer than some editions."""
    known = set(list_currencies())
    for code in ["EUR", "GBP", "CHF", "USD", "JPY", "KWD", "CZK", "SEK", "DKK", "PLN", "HUF"]:
        assert currency(code).code in known
        assert currency(code).minor_units == get_currency_precision(code)


@pytest.mark.parametrize("code", ["", "EURO", "XXZ", "€"])
def test_unknown_codes_are_refused(code):
    with pytest.raises(NotationError, match="no currency code"):
        currency(code)


def test_conversion_rounds_half_up_once():
    assert convert(Decimal("10.05"), Decimal("0.5"), EUR) == Decimal("5.03")
    with pytest.raises(InputError, match="above zero"):
        convert(Decimal(1), Decimal(0), EUR)
