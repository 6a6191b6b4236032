"""Landed price: by hand in fractions, forwards and backwards."""

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from outshop.errors import InputError
from outshop.market.landed import BidStep, Step, Terms, highest_bid, landed
from outshop.market.money import currency

EUR = currency("EUR")
TERMS = Terms(
    EUR,
    premium=(Step(Decimal(25), Decimal(1000)), Step(Decimal(20), Decimal(5000)), Step(Decimal(12))),
    online_percent=Decimal(5),
    tax_on_premium=Decimal(19),
    import_percent=Decimal(7),
    carriage=Decimal("18.50"),
    insurance_percent=Decimal(1),
    bids=(
        BidStep(Decimal(0), Decimal(5)),
        BidStep(Decimal(100), Decimal(10)),
        BidStep(Decimal(500), Decimal(50)),
    ),
)


def cents(value):
    """Round half up to cents in whole numbers, independently of decimal."""
    return Fraction((value * 100 + Fraction(1, 2)).__floor__(), 100)


def by_hand(hammer):
    hammer = Fraction(hammer)
    premium = cents(
        min(hammer, 1000) * Fraction(25, 100)
        + max(0, min(hammer, 5000) - 1000) * Fraction(20, 100)
        + max(0, hammer - 5000) * Fraction(12, 100)
    )
    online = cents(hammer * Fraction(5, 100))
    tax = cents((premium + online) * Fraction(19, 100))
    insurance = cents(hammer / 100)
    duty = cents((hammer + premium + online + Fraction("18.50") + insurance) * Fraction(7, 100))
    return hammer + premium + online + tax + Fraction("18.50") + insurance + duty


def test_a_worked_example():
    """Hammer 200: premium 50, online 10, tax 11.40, carriage 18.50, insurance 2, import 19.64."""
    found = landed(Decimal(200), TERMS)
    assert dict(found.lines) == {
        "hammer": Decimal(200),
        "premium": Decimal(50),
        "online surcharge": Decimal(10),
        "tax on premium and surcharge": Decimal("11.40"),
        "tax on hammer": Decimal(0),
        "carriage": Decimal("18.50"),
        "tax on carriage": Decimal(0),
        "insurance": Decimal(2),
        "customs duty": Decimal(0),
        "import tax": Decimal("19.64"),
        "fixed fees": Decimal(0),
    }
    assert found.total == Decimal("311.54")


@given(st.integers(0, 2_000_000))
def test_every_price_equals_the_sum_in_fractions(hammer_cents):
    hammer = Decimal(hammer_cents) / 100
    assert Fraction(landed(hammer, TERMS).total) == by_hand(hammer)


def ladder(limit):
    bid, bids = 0, []
    while bid <= limit:
        bids.append(bid)
        bid += 5 if bid < 100 else 10 if bid < 500 else 50
    return bids


@given(st.integers(0, 300_000))
def test_the_highest_bid_equals_a_search_up_the_ladder(budget_cents):
    budget = Fraction(budget_cents, 100)
    fitting = [b for b in ladder(3000) if by_hand(b) <= budget]
    expected = max(fitting) if fitting else 0
    assert highest_bid(Decimal(budget_cents) / 100, TERMS) == expected


def test_import_tax_falls_on_the_duty_as_well_and_fees_on_nothing():
    """Hammer 400, carriage 50: duty 4.2 % of 450 is 18.90; 20 % of 468.90 is 93.78."""
    terms = Terms(
        EUR,
        carriage=Decimal(50),
        tax_on_carriage=Decimal(10),
        duty_percent=Decimal("4.2"),
        import_percent=Decimal(20),
        fees=Decimal(12),
    )
    found = dict(landed(Decimal(400), terms).lines)
    assert found["tax on carriage"] == 5
    assert found["customs duty"] == Decimal("18.90")
    assert found["import tax"] == Decimal("93.78")
    assert landed(Decimal(400), terms).total == Decimal("579.68")


def test_cap_and_least_premium():
    terms = Terms(
        EUR, premium=(Step(Decimal(25)),), premium_cap=Decimal(100), premium_least=Decimal(15)
    )
    assert landed(Decimal(10), terms).total == 25
    assert landed(Decimal(200), terms).total == 250
    assert landed(Decimal(2000), terms).total == 2100
    assert landed(Decimal(0), terms).total == 0


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"premium": (Step(Decimal(120)),)}, "premium step 1 must lie between 0 and 100"),
        (
            {"premium": (Step(Decimal(20), Decimal(500)), Step(Decimal(10), Decimal(400)))},
            "steps overlap",
        ),
        ({"premium": (Step(Decimal(20)), Step(Decimal(10)))}, "only the last may be open"),
        ({"carriage": Decimal(-1)}, "carriage cannot be negative"),
        ({"bids": (BidStep(Decimal(0), Decimal(0)),)}, "rise by more than 0"),
        ({"bids": (BidStep(Decimal(5), Decimal(5)),)}, "must start at 0"),
        (
            {"bids": (BidStep(Decimal(0), Decimal(30)), BidStep(Decimal(100), Decimal(50)))},
            "do not reach",
        ),
        ({"tax_on_premium": Decimal("NaN")}, "between 0 and 100"),
    ],
)
def test_impossible_terms_are_refused(changes, sentence):
    with pytest.raises(InputError, match=sentence):
        Terms(EUR, **changes)


def test_negative_prices_are_refused():
    with pytest.raises(InputError, match="hammer price cannot be negative"):
        landed(Decimal(-1), TERMS)
    with pytest.raises(InputError, match="budget cannot be negative"):
        highest_bid(Decimal(-1), TERMS)
