"""Running log, stock, shopping list and own pace."""

import math
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from outshop.errors import InputError
from outshop.workshop.pace import Took, own_pace
from outshop.workshop.running_log import Ran, is_double_tap
from outshop.workshop.stock import Need, StockItem, shopping_list, take

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)


def test_the_same_minutes_tapped_twice_are_one_tap():
    first = Ran(NOON, 25)
    assert is_double_tap(first, Ran(NOON + timedelta(seconds=3), 25))
    assert not is_double_tap(first, Ran(NOON + timedelta(seconds=3), 10))
    assert not is_double_tap(first, Ran(NOON + timedelta(minutes=3), 25))
    assert not is_double_tap(None, first)


@pytest.mark.parametrize("minutes", [0, -5, 1441, math.nan, math.inf])
def test_minutes_that_cannot_be_are_refused(minutes):
    with pytest.raises(InputError, match="one run lasts more than 0"):
        Ran(NOON, minutes)
    with pytest.raises(InputError, match="lacks its zone"):
        Ran(datetime(2026, 1, 1), 5)  # noqa: DTZ001 - the fault


def test_the_list_covers_open_jobs_and_the_least_stock():
    stock = [
        StockItem("Tyres", "14 mm", 1, 2),
        StockItem("Brushes", "", 4, 0, "pairs"),
        StockItem("Oil", "", 20, 5, "ml"),
    ]
    needs = [Need("tyres", 2, "14 MM", "J-1"), Need("tyres", 1, "9 mm", "J-2"), Need("brushes", 2)]
    found = {(b.name, b.size): (b.amount, b.jobs) for b in shopping_list(needs, stock)}
    assert found == {
        ("Tyres", "14 mm"): (3, ("J-1",)),
        ("tyres", "9 mm"): (1, ("J-2",)),
    } or found == {("tyres", "14 MM"): (3, ("J-1",)), ("tyres", "9 mm"): (1, ("J-2",))}


amounts = st.floats(0.5, 50)
sizes = st.sampled_from(["", "a", "b"])


@given(
    st.lists(st.tuples(sizes, amounts), max_size=6),
    st.dictionaries(st.sampled_from(["a", "b"]), amounts),
)
def test_stock_plus_purchases_cover_every_need(wanted, have):
    stock = [StockItem("Lamp", size, count) for size, count in have.items()]
    bought = shopping_list([Need("lamp", n, size) for size, n in wanted], stock)
    total = sum(have.values()) + sum(b.amount for b in bought)
    assert total >= sum(n for _, n in wanted) - 1e-9
    for size in "ab":
        asked = sum(n for s, n in wanted if s == size)
        got = have.get(size, 0) + sum(b.amount for b in bought if b.size == size)
        assert got >= asked - 1e-9
    spare = sum(have.values()) - sum(n for _, n in wanted)
    assert not bought or spare < sum(have.values())


def test_more_cannot_be_taken_than_is_there():
    tyres = StockItem("Tyres", in_stock=3)
    assert take(tyres, 2).in_stock == 1
    for amount, sentence in ((4, "only 3 pieces of Tyres"), (-1, "more than nothing"), (0, "more")):
        with pytest.raises(InputError, match=sentence):
            take(tyres, amount)


@pytest.mark.parametrize(
    ("make", "sentence"),
    [
        (lambda: StockItem("Tyres", in_stock=-1), "stock of Tyres cannot be -1"),
        (lambda: StockItem("Tyres", in_stock=math.nan), "cannot be nan"),
        (lambda: StockItem("Tyres", keep_at_least=-2), "least stock of Tyres"),
        (lambda: StockItem(" "), "needs a name"),
        (lambda: Need("Tyres", 0), "more than nothing"),
        (lambda: Took("tyres", 10, 0), "must be above 0"),
    ],
)
def test_bad_numbers_are_told(make, sentence):
    with pytest.raises(InputError, match=sentence):
        make()


def test_own_pace_grows_from_the_tables_to_ones_own():
    assert own_pace([]) == {}
    one, many = (own_pace([Took("tyres", 10, 20)] * n)["tyres"] for n in (1, 200))
    assert 1 < one < many < 2
    assert many == pytest.approx(2, rel=0.01)
    wild = own_pace([Took("tyres", 10, 20)] * 6 + [Took("tyres", 10, 60_000)])["tyres"]
    assert wild < 2.5
