"""Speed table and clocks in a browser: typed with the keyboard alone, explained at once, kept."""

import pytest
from playwright.sync_api import expect

from .steps import enter_piece

RUNS = (
    ("2", "-", "-"), ("3", "-", "40"), ("4", "20", "18"), ("6", "7,1", "6,9"),
    ("9", "3,6", "3,5"), ("12", "2,4", "2,4"),
)  # fmt: skip


def fits(page):
    """Nothing reaches beyond the window's width."""
    return page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_a_speed_table_is_typed_by_keyboard_explained_and_kept(opened, size):
    page = opened(size)
    piece = enter_piece(page, f"Speed table engine {size}")
    page.goto(f"{piece}speeds/")
    page.get_by_label("Way, mm").fill("1000")
    page.get_by_label("Line 1: setting").focus()
    for setting, raising, lowering in RUNS:
        for text in (setting, raising, lowering, "", ""):
            page.keyboard.type(text)
            page.keyboard.press("Tab")
    chart = page.get_by_role("img", name="Speed over setting")
    expect(chart).to_be_visible()
    expect(page.locator("#answer")).to_contain_text("Starts at")
    assert fits(page)
    page.get_by_role("button", name="Keep", exact=True).focus()
    page.keyboard.press("Enter")
    expect(page.get_by_text("Kept with the piece.")).to_be_visible()
    expect(page.get_by_role("heading", name="On record")).to_be_visible()
    expect(chart).to_be_visible()
    assert fits(page)


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_two_clocks_are_typed_by_keyboard_and_held_together(opened, size):
    page = opened(size)
    piece = enter_piece(page, f"Clocked engine {size}")
    page.goto(f"{piece}clocks/")
    page.locator("#id_way1").fill("1000")
    page.keyboard.press("Tab")
    page.keyboard.type("5,02 5,10 4,97")
    page.locator("summary", has_text="More clocks").focus()
    page.keyboard.press("Enter")
    page.locator("#id_kind2").select_option("gates")
    page.locator("#id_way2").fill("500")
    page.locator("#id_times2").fill("2.51")
    page.keyboard.press("Tab")
    expect(page.locator("#answer")).to_contain_text("The clocks agree.")
    page.locator("#id_times2").fill("1.51")
    page.keyboard.press("Tab")
    expect(page.locator("#answer")).to_contain_text("do not agree")
    assert fits(page)
    page.locator("#id_times2").fill("soon")
    page.keyboard.press("Tab")
    expect(page.get_by_role("alert")).to_contain_text("Line 2: 'soon' is no number")
    page.locator("#id_times2").fill("2.51")
    page.get_by_role("button", name="Keep", exact=True).focus()
    page.keyboard.press("Enter")
    expect(page.get_by_text("Kept with the piece.")).to_be_visible()
    expect(page.get_by_role("heading", name="On record")).to_be_visible()
