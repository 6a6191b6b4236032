"""The bid ceiling against closed forms, and as relations."""

from decimal import Decimal

import numpy as np
import pytest
from scipy import stats

from outshop.errors import InputError
from outshop.market.bid import Grade, Repair, bid_ceiling, expected_maximum
from outshop.market.landed import Step, Terms
from outshop.market.money import currency
from outshop.market.questions import questions_worth_asking

PLAIN = Terms(currency("EUR"))
HOUSE = Terms(currency("EUR"), premium=(Step(Decimal(25)),), carriage=Decimal(12))
FINE = [Grade("fine", 1, 200, 0.3)]
DOUBT = [Grade("runner", 0.6, 200, 0.2), Grade("needs work", 0.4, 90, 0.3)]
REPAIRS = [Repair("split gear", 0.3, 40, 60), Repair("new tyres", 0.8, 4, 15)]


def test_one_condition_equals_the_quantile_of_its_lognormal():
    found = bid_ceiling(FINE, [], PLAIN, accepted_regret=0.2)
    expected = 200 * np.exp(0.3 * stats.norm.ppf(0.2))
    assert float(found.bid) == pytest.approx(expected, rel=0.01)
    assert found.regret == pytest.approx(0.2, abs=0.01)


@pytest.mark.parametrize(("bidders", "mean"), [(1, 0.0), (2, 0.56419), (3, 0.84628), (10, 1.53875)])
def test_mean_of_the_largest_of_normal_draws(bidders, mean):
    """Source: tables of normal order statistics, Harter 1961 (from memory; n = 2 is 1/sqrt(pi))."""
    assert expected_maximum(bidders) == pytest.approx(mean, abs=1e-4)


def test_the_same_question_gives_the_same_answer():
    assert bid_ceiling(DOUBT, REPAIRS, HOUSE) == bid_ceiling(DOUBT, REPAIRS, HOUSE)


def test_premium_and_carriage_come_off_the_bid():
    """Budget b lands a bid of (b - 12) / 1.25."""
    found = bid_ceiling(FINE, [], HOUSE)
    assert float(found.bid) == pytest.approx((found.budget - 12) / 1.25, abs=0.02)


@pytest.mark.parametrize(
    ("changed", "higher"),
    [
        ({"accepted_regret": 0.4}, True),
        ({"accepted_regret": 0.05}, False),
        ({"hour_worth": 30.0}, False),
        ({"bidders": 6, "judgement_spread": 0.3}, False),
    ],
)
def test_what_raises_and_what_lowers_the_ceiling(changed, higher):
    plain, other = bid_ceiling(DOUBT, REPAIRS, HOUSE), bid_ceiling(DOUBT, REPAIRS, HOUSE, **changed)
    assert (other.bid > plain.bid) is higher


def test_a_hopeless_lot_is_let_go():
    found = bid_ceiling([Grade("scrap", 1, 10, 0.1)], [Repair("motor", 1, 50)], HOUSE)
    assert found.bid == 0
    assert "let it go" in found.warnings[-1]


def test_drivers_name_the_largest_doubt_first_and_share_one():
    drivers = bid_ceiling(DOUBT, REPAIRS, HOUSE).drivers
    assert drivers[0][0] == "condition"
    assert sum(share for _, share in drivers) == pytest.approx(1)


def test_the_questions_that_move_the_bid_most_come_first():
    questions = questions_worth_asking(DOUBT, REPAIRS, HOUSE)
    assert questions[0].asks.startswith("Which condition")
    assert questions[1].asks.startswith("split gear")
    assert [q.moves for q in questions] == sorted((q.moves for q in questions), reverse=True)


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (([], [], PLAIN), "at least one condition"),
        (([Grade("x", 1, -5, 0.1)], [], PLAIN), "value must be above 0"),
        ((FINE, [Repair("y", 1.3, 5)], PLAIN), "between 0 and 1; got 1.3"),
        ((FINE, [Repair("y", 0.3, -5)], PLAIN), "cannot be negative"),
    ],
)
def test_impossible_numbers_are_refused(arguments, sentence):
    with pytest.raises(InputError, match=sentence):
        bid_ceiling(*arguments)
