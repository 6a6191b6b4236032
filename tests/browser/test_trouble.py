"""Asking what ails a piece: a tap ranks the causes at once."""

import pytest
from playwright.sync_api import expect

from .steps import enter_piece


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_a_tap_ranks_the_causes_at_once(opened, size):
    page = opened(size)
    enter_piece(page, f"Ailing engine {size}", "1'C1'")
    page.get_by_role("button", name="Something ails it").click()
    reading = page.locator("#reading")
    expect(reading.get_by_text("The first look")).to_be_visible()
    page.locator("#questions").get_by_text("the motor turns but the wheels do not").wait_for()
    page.locator("#q-motor_runs_no_drive label", has_text="Yes").click()
    expect(reading.locator(".causes .name").first).to_contain_text("gear")
    page.reload()
    expect(page.locator("#q-motor_runs_no_drive input[value=yes]")).to_be_checked()


def test_the_check_s_own_buttons_answer_the_question_below(opened):
    page = opened("phone")
    enter_piece(page, "Locked engine", "1'C1'")
    page.get_by_role("button", name="Something ails it").click()
    page.locator(".next").get_by_role("button", name="Yes").first.click()
    expect(page.locator(".stop-sign")).to_contain_text("Locked wheels")
    expect(page.locator("#q-wheels_locked input[value=yes]")).to_be_checked()


def test_it_works_without_any_script(house, chromium):
    context = chromium.new_context(base_url=house.address, java_script_enabled=False)
    context.set_default_timeout(20_000)
    page = context.new_page()
    enter_piece(page, "Scriptless ailing engine", "1A")
    page.get_by_role("button", name="Something ails it").click()
    page.locator("#q-runs_slow label", has_text="Yes").click()
    page.get_by_role("button", name="Keep the answers").click()
    expect(page.locator(".causes summary").first).to_contain_text("runs slower")
    context.close()
