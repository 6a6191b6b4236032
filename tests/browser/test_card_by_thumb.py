"""The job card by thumb on a phone, through a lost connection; the log by the code on the box."""

import re

import pytest
from playwright.sync_api import expect

from .steps import enter_piece

WAIT_MS = 30_000  # the page tries again every four seconds


@pytest.fixture(name="card")
def _card(opened):
    page = opened("phone")
    piece = enter_piece(page, "Ticked by thumb", "1'C1'")
    page.goto(f"{piece}job/")
    page.get_by_label("Lubricate bearings and gears").check()
    page.get_by_role("button", name=re.compile("Write|Make")).click()
    page.wait_for_url("**/job/*/")
    return page


def ticks(page):
    return page.locator(".steps .tick")


def pressed(page) -> int:
    return page.locator('.steps .tick[aria-pressed="true"]').count()


def test_ticks_and_notes_survive_a_lost_connection(card):
    page = card
    ticks(page).nth(0).tap()
    expect(ticks(page).nth(0)).to_have_attribute("aria-pressed", "true")

    page.context.set_offline(True)
    for number in (1, 2, 3):
        ticks(page).nth(number).tap()
        expect(ticks(page).nth(number)).to_have_attribute("aria-pressed", "true")
    ticks(page).nth(3).tap()  # taken back while still offline
    expect(ticks(page).nth(3)).to_have_attribute("aria-pressed", "false")
    step = page.locator(".steps > li").nth(4)
    step.get_by_text("Note and photo").tap()
    step.get_by_label("Note").fill("spring was bent #1")
    step.get_by_role("button", name="Keep").tap()
    waiting = page.locator("#offline")
    expect(waiting).to_be_visible()
    expect(waiting).to_contain_text("4")

    page.context.set_offline(False)
    expect(waiting).to_be_hidden(timeout=WAIT_MS)
    page.reload()
    assert [ticks(page).nth(n).get_attribute("aria-pressed") for n in range(5)] == [
        "true", "true", "true", "false", "false",
    ]  # fmt: skip
    expect(page.locator(".steps > li").nth(4)).to_contain_text("spring was bent #1")


def test_what_waits_outlives_the_page(card):
    """The page is closed while offline; the next page that opens sends what waited."""
    page = card
    address = page.url
    page.context.set_offline(True)
    ticks(page).nth(0).tap()
    expect(page.locator("#offline")).to_be_visible()
    page.goto("about:blank")
    page.context.set_offline(False)
    page.goto(address)
    expect(ticks(page).nth(0)).to_have_attribute("aria-pressed", "true", timeout=WAIT_MS)
    expect(page.locator("#offline")).to_be_hidden(timeout=WAIT_MS)


def test_the_whole_card_is_ticked_by_thumb_without_sideways_scrolling(card):
    page = card
    count = ticks(page).count()
    assert count > 15
    for number in range(count):
        button = ticks(page).nth(number)
        box = button.bounding_box()
        assert min(box["width"], box["height"]) >= 44  # WCAG 2.2, 2.5.5, target size (enhanced)
        button.tap()
        expect(ticks(page).nth(number)).to_have_attribute("aria-pressed", "true")
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    page.get_by_role("button", name="The job is done").tap()
    expect(page.get_by_role("button", name="Open it again")).to_be_visible()
    page.get_by_role("link", name=re.compile("Ticked by thumb")).first.tap()
    page.get_by_role("link", name="Care and oil points").tap()
    expect(page.locator("#done")).to_contain_text("Oil bearings, grease gears")


def test_a_run_is_noted_with_two_taps(opened):
    page = opened("phone", "dark")
    enter_piece(page, "Ran by tap", "B")
    page.get_by_role("link", name="Ran today").tap()
    page.get_by_role("button", name="25 min").tap()
    expect(page.get_by_role("status")).to_contain_text("Noted: 25 minutes")
    expect(page.get_by_text("Ran in all").locator("xpath=..")).to_contain_text("25 min")


def test_the_least_opening_is_chosen_by_thumb(opened):
    page = opened("phone")
    piece = enter_piece(page, "Taken apart", "Bo'Bo'")
    page.goto(f"{piece}strip-down/")
    page.get_by_label("Brushes").check()
    page.get_by_role("button", name="Show the least opening").tap()
    expect(page.locator("#off h3").first).to_have_text("Take the body off")
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
