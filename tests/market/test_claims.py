"""Claims are found in the seller's words and held against what was seen."""

from datetime import date
from decimal import Decimal

import pytest

from outshop.market.claims import Seen, Verdict, claim_kinds, days_left, find_claims, judge
from outshop.market.schedule import Item, changes_since, make_schedule

KINDS = {kind.id: kind for kind in claim_kinds()}
PARTS = ["axle", "box", "handrails"]
GOOD = [Seen(p, "good", "good", f"{p}: in order") for p in PARTS]
SEIZED = Seen("axle", "seized", "stop", "Axle 2: seized")


def test_claims_are_found_in_a_listing_and_denials_are_not():
    listing = "Fully serviced, runs well. Original box! Not repainted; without papers. Never tested"
    found = [kind.id for _, kind in find_claims(listing)]
    assert found == ["serviced", "runs", "original-box", "original-paint"]


def test_a_forty_page_listing_is_read_in_one_go():
    listing = "A fine old engine with many stories to tell\n" * 2000 + "complete\n"
    assert [kind.id for _, kind in find_claims(listing)] == ["complete"]


@pytest.mark.parametrize(
    ("kind", "seen", "measured", "verdict", "because"),
    [
        ("serviced", [SEIZED], {}, Verdict.CONTRADICTED, "Axle 2: seized"),
        ("serviced", GOOD, {}, Verdict.UPHELD, "axle: in order"),
        ("serviced", [], {}, Verdict.NOT_TESTABLE, "not looked at"),
        ("complete", GOOD, {}, Verdict.UPHELD, "box: in order"),
        ("complete", GOOD[:2], {}, Verdict.NOT_TESTABLE, "not looked at: handrails"),
        (
            "complete",
            [*GOOD[:2], Seen("handrails", "missing", "absent", "Handrails: missing")],
            {},
            Verdict.CONTRADICTED,
            "Handrails: missing",
        ),
        ("runs", GOOD, {"motor_speed": "57 turns a second"}, Verdict.UPHELD, "57 turns"),
        ("runs", GOOD, {}, Verdict.NOT_TESTABLE, "needs the measurement motor speed"),
        ("runs", [SEIZED], {"motor_speed": "57"}, Verdict.CONTRADICTED, "seized"),
    ],
)
def test_verdicts(kind, seen, measured, verdict, because):
    judged = judge("as said", KINDS[kind], seen, PARTS, measured)
    assert judged.verdict == verdict
    assert because in " ".join(judged.because)


@pytest.mark.parametrize(
    ("today", "words"),
    [(1, "13 days left"), (14, "ends today"), (20, "ended 6 days ago")],
)
def test_the_return_deadline_is_watched(today, words):
    assert words in days_left(date(2026, 5, 14), date(2026, 5, today))


def test_schedule_totals_by_place_and_names_what_has_no_value():
    items = [
        Item("1", "tank engine", "cabinet", market=Decimal(80), agreed=Decimal(100)),
        Item("2", "railcar", "cabinet", market=Decimal(120)),
        Item("3", "van", "", agreed=Decimal("12.50")),
    ]
    schedule = make_schedule(items, "agreed")
    assert schedule.total == Decimal("112.50")
    assert [(p, t) for p, _, t in schedule.places] == [
        ("cabinet", 100),
        ("place not told", Decimal("12.50")),
    ]
    assert schedule.unvalued == ("railcar",)
    assert make_schedule(items, "market").total == 200


def test_changes_name_what_came_went_and_moved():
    before = {
        "1": Item("1", "a", "", agreed=Decimal(10)),
        "2": Item("2", "b", "", agreed=Decimal(5)),
    }
    after = {
        "1": Item("1", "a", "", agreed=Decimal(12)),
        "3": Item("3", "c", "", agreed=Decimal(7)),
    }
    changes = [(c.name, c.before, c.after) for c in changes_since(before, after, "agreed")]
    assert changes == [("a", 10, 12), ("b", 5, None), ("c", None, 7)]
    assert changes_since(after, after, "agreed") == []
