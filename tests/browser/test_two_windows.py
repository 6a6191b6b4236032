"""Forms sent twice, and two windows at the same piece."""

import sqlite3

from playwright.sync_api import expect

from .steps import enter_piece


def test_a_form_sent_twice_makes_one_piece(opened):
    page = opened()
    page.goto("/piece/new/")
    page.get_by_label("Name", exact=True).fill("Entered once only")
    form = page.locator("form[method=post]").evaluate(
        "form => Object.fromEntries(new FormData(form))"
    )
    first = page.request.post("/piece/new/", form=form, headers={"Referer": page.url})
    second = page.request.post("/piece/new/", form=form, headers={"Referer": page.url})
    assert first.url == second.url
    page.goto("/shelf/?q=entered once only")
    expect(page.locator("#found .rows li")).to_have_count(1)


def test_the_second_window_sees_both_versions_and_loses_neither(opened):
    one = opened("desk")
    piece = enter_piece(one, "Edited in two windows", "C")
    two = one.context.new_page()
    one.goto(f"{piece}edit/")
    two.goto(f"{piece}edit/")
    one.get_by_label("Road number").fill("11")
    one.get_by_role("button", name="Keep").click()
    expect(one.get_by_role("heading", level=1)).to_contain_text("11")

    two.get_by_label("Road number").fill("12")
    two.get_by_role("button", name="Keep").click()
    expect(two.get_by_role("heading", level=1)).to_contain_text("Changed meanwhile")
    row = two.get_by_role("row", name="Road number")
    expect(row).to_contain_text("11")
    expect(row).to_contain_text("12")
    two.get_by_role("button", name="Keep mine").click()
    expect(two.get_by_role("heading", level=1)).to_contain_text("Edited in two windows 12")


def test_a_wrong_entry_keeps_everything_that_was_typed(opened):
    page = opened("phone")
    page.goto("/piece/new/")
    page.get_by_label("Name", exact=True).fill("Half right")
    page.get_by_label("Axles, engine and tender").fill("1'X1'")
    page.get_by_text("Measures, dates and place").click()
    page.get_by_label("Shows the years").fill("1990/1989")
    page.get_by_role("button", name="Enter the piece").click()
    box = page.get_by_role("alert").filter(has_text="Nothing was kept yet")
    expect(box).to_contain_text("Axles, engine and tender")
    expect(box).to_contain_text("Shows the years")
    expect(page.get_by_label("Name", exact=True)).to_have_value("Half right")
    expect(page.get_by_label("Shows the years")).to_have_value("1990/1989")


def test_a_reading_above_the_limit_stops_the_clock(opened):
    page = opened("phone")
    piece = enter_piece(page, "Runs hot", "B")
    page.goto(f"{piece}run-in/")
    page.get_by_label("Forward, minutes").fill("500")
    page.get_by_role("button", name="Set the clock").click()
    page.get_by_role("button", name="Start").click()
    page.get_by_label("Temperature").fill("71,5")
    page.get_by_role("button", name="Note the reading").click()
    expect(page.locator(".stop-sign")).to_contain_text("71.5 °C is above the limit of 55 °C")
    expect(page.get_by_role("button", name="Start")).to_have_count(0)
    page.goto(piece)
    expect(page.locator("#jobs")).to_contain_text("stopped at a limit")


def test_an_address_that_leads_nowhere_says_so_and_offers_a_way_on(opened):
    page = opened("phone")
    for address in ("/nothing/", "/piece/987654/", "/recording/987654/"):
        answer = page.goto(address)
        assert answer.status == 404
        expect(page.locator("[data-sentence]")).to_be_visible()
        page.get_by_role("link", name="To the bench").click()
        expect(page.get_by_role("heading", level=1)).to_contain_text("The bench")


def test_a_store_in_use_elsewhere_loses_nothing_that_was_typed(opened, house):
    page = opened("phone")
    page.goto("/piece/new/")
    page.get_by_label("Name", exact=True).fill("Typed while the store was locked")
    other = sqlite3.connect(house.home / "outshop.sqlite3", isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    try:
        page.get_by_role("button", name="Enter the piece").click()
        expect(page.locator("[data-sentence]")).to_contain_text("in use", timeout=30_000)
    finally:
        other.execute("ROLLBACK")
        other.close()
    page.get_by_role("button", name="Send it again").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Typed while the store was locked")
