"""Finding pieces on the shelf."""

import pytest
from playwright.sync_api import expect

from .steps import enter_piece


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_typing_narrows_the_shelf_and_the_address_can_be_kept(opened, size):
    page = opened(size)
    enter_piece(page, f"Quarry engine {size} Aldous", "B")
    enter_piece(page, f"Quarry engine {size} Bertha", "C")
    page.goto("/shelf/")
    page.get_by_role("searchbox").press_sequentially(f"{size} bertha")
    found = page.locator("#found")
    expect(found.get_by_role("link", name=f"Quarry engine {size} Bertha")).to_be_visible()
    expect(found.get_by_role("link", name=f"Quarry engine {size} Aldous")).to_have_count(0)
    page.wait_for_url("**/shelf/?q=**")
    page.reload()
    expect(found.get_by_role("link", name=f"Quarry engine {size} Bertha")).to_be_visible()


def test_nothing_found_is_said_with_a_way_back(opened):
    page = opened("phone")
    page.goto("/shelf/?q=no-such-thing-anywhere")
    expect(page.get_by_text("Nothing fits.")).to_be_visible()
    page.get_by_role("link", name="Show all").click()
    expect(page).to_have_url("/shelf/")


def test_filters_work_without_any_script(house, chromium):
    context = chromium.new_context(base_url=house.address, java_script_enabled=False)
    page = context.new_page()
    enter_piece(page, "Scriptless railcar", "1A")
    page.goto("/shelf/")
    page.get_by_role("searchbox").fill("scriptless")
    page.get_by_label("State").select_option("arrived")
    page.get_by_role("button", name="Find").click()
    expect(page.get_by_role("link", name="Scriptless railcar")).to_be_visible()
    page.get_by_label("State").select_option("sold")
    page.get_by_role("button", name="Find").click()
    expect(page.get_by_text("Nothing fits.")).to_be_visible()
    context.close()
