"""The main job without a mouse."""

from playwright.sync_api import expect


def tab_to(page, wanted: str, most: int = 80) -> None:
    """Press Tab until the element that matches is in focus; its ring must be visible."""
    for _ in range(most):
        page.keyboard.press("Tab")
        if page.evaluate("wanted => document.activeElement.matches(wanted)", wanted):
            shown = page.evaluate(
                "() => { const e = document.activeElement; "
                "const plate = e.querySelector && e.querySelector('.touch'); "
                "const s = getComputedStyle(plate || e); "
                "return plate ? s.strokeWidth !== '0px' && s.stroke !== 'none' "
                ": s.outlineStyle !== 'none' }"
            )
            assert shown, f"the focus on {wanted} cannot be seen"
            return
    raise AssertionError(f"{wanted} cannot be reached by keyboard")


def test_a_piece_is_entered_inspected_and_carded_by_keyboard_alone(opened):
    page = opened("desk")
    page.goto("/")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"
    tab_to(page, "a.button[href='/piece/new/']")
    page.keyboard.press("Enter")
    page.wait_for_url("**/piece/new/")
    tab_to(page, "#id_name")
    page.keyboard.type("Typed without a mouse")
    tab_to(page, "#id_arrangement")
    page.keyboard.type("1B")
    tab_to(page, "form[method=post] button")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Typed without a mouse")

    tab_to(page, "form[action$='/inspect/'] button")
    page.keyboard.press("Enter")
    page.wait_for_url("**/inspection/*/")
    tab_to(page, "svg a")
    page.keyboard.press("Enter")
    expect(page.locator("#axle-panel fieldset")).to_be_visible()
    tab_to(page, "#axle-panel input[type=radio]")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    tab_to(page, "#axle-panel button")
    page.keyboard.press("Enter")
    expect(page.locator("#summary")).to_contain_text("Axle a: seized")
    tab_to(page, "form[action$='/job/'] button", most=200)
    page.keyboard.press("Enter")
    page.wait_for_url("**/job/*/")
    tab_to(page, ".tick")
    page.keyboard.press("Space")
    expect(page.locator("#progress")).to_contain_text("1 of ")
    # the tick swaps its row; the focus must not be thrown back to the top of the page
    page.wait_for_function("document.activeElement.matches('.tick')")
