"""The meter page in a browser: what is typed is explained at once, then kept."""

import pytest
from playwright.sync_api import expect

from .steps import enter_piece


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_readings_are_explained_while_typing_and_kept(opened, size):
    page = opened(size)
    enter_piece(page, f"Meter engine {size}", "1'D1'")
    page.get_by_role("link", name="Meter, caliper and scale").click()
    motor = page.locator("#motor")
    for name, volts, amps, turns in (
        ("Light, full voltage", "12", "0,12", "171.9"),
        ("Held, any angle", "6", "0.6", None),
    ):
        motor.get_by_label(f"{name}: V").fill(volts)
        motor.get_by_label(f"{name}: A").fill(amps)
        if turns:
            motor.get_by_label(f"{name}: turns").fill(turns)
    page.keyboard.press("Tab")
    expect(motor.get_by_role("img", name="Speed over current at 12 volts")).to_be_visible()
    motor.get_by_role("button", name="Keep").click()
    expect(page.get_by_text("Kept with the piece.")).to_be_visible()
    expect(page.locator("#motor").get_by_text("On record")).to_be_visible()


def test_a_tapped_axle_is_measured_and_marked(opened):
    page = opened("phone")
    enter_piece(page, "Meter engine with narrow wheels", "1'C")
    page.get_by_role("link", name="Meter, caliper and scale").click()
    page.locator("#wheels").get_by_role("link", name="driven axle 2").click()
    wheels = page.locator("#wheels")
    wheels.get_by_label("Track gauge").fill("16.5")
    wheels.get_by_label("Back-to-back").fill("14,2 14,3 14,2")
    wheels.get_by_role("button", name="Keep").click()
    marked = page.locator("#wheels").get_by_role("link", name="driven axle 2")
    expect(marked).to_have_accessible_name("driven axle 2: Out by 0.20 mm")
