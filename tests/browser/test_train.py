"""The whole way to a train: draw the line, fill the shelf, choose, swap, print the card."""

import io
import re

import pypdf
import pytest
from playwright.sync_api import Page, expect

SHELF = (
    ("luggage van", "104", "52"),
    ("coach, second class", "132", "78"),
    ("coach, second class", "131", "76"),
    ("coach, second class", "133", "77"),
    ("open wagon", "101", "39"),
)
LONG_MS = 40_000  # making up trains on a busy machine


def draw_line(page: Page, name: str, size: str) -> None:
    """Draw a line by thumb on the phone, by keys on the desk."""
    page.goto("/lines/")
    page.get_by_label("Name", exact=True).fill(name)
    page.get_by_label("Loops take").fill("700")
    page.get_by_label("Supply gives").fill("1")
    page.get_by_role("button", name="Add").click()
    expect(page.get_by_role("heading", level=1)).to_have_text(name)
    page.get_by_label("Straight mm").fill("900")
    if size == "phone":
        for words in ("Straight", "Platform", "Up", "Up", "Curve left"):
            page.get_by_role("button", name=words, exact=True).tap()
    else:
        page.get_by_role("group", name="Drawing board").focus()
        for key in ("ArrowUp", "p", "+", "+", "ArrowLeft"):
            page.keyboard.press(key)
    expect(page.locator("#drawn")).to_contain_text("Section 2 is at work")
    expect(page.locator("svg .platform")).to_have_count(1)
    expect(page.locator("#drawn")).to_contain_text("section 2 asks 30 ‰")  # 10 and 8128 / 400


def fill_shelf(page: Page, mark: str) -> None:
    for n, (kind, length, mass) in enumerate(SHELF, 1):
        page.goto("/vehicles/")
        page.get_by_label("Name", exact=True).fill(f"{mark} {n}")
        page.get_by_label("Kind").select_option(label=kind)
        page.get_by_label("Length over buffers").fill(length)
        page.get_by_label("Mass (g)").fill(mass)
        page.get_by_role("button", name="Add").click()
        expect(page.get_by_role("link", name=f"{mark} {n}", exact=True)).to_be_visible()


def enter_train(page: Page, mark: str, line: str) -> str:
    page.goto("/train/new/")
    page.get_by_label("Name of the train").fill(f"Evening train {mark}")
    page.get_by_label("Line", exact=True).select_option(label=line)
    page.get_by_label("Kind of train").select_option("branch-passenger")
    page.get_by_label("Engine's length (mm)").fill("118")
    page.get_by_label("Engine's mass (g)", exact=True).fill("286")
    page.get_by_label("Pull on the level").fill("40")
    page.get_by_role("button", name="Keep").click()
    expect(page.get_by_text("Nothing stands behind the engine yet")).to_be_visible()
    return page.url


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_from_an_empty_layout_to_a_printed_consist_card(opened, size):
    page = opened(size)
    mark = f"Van {size}"
    draw_line(page, f"Attic {size}", size)
    fill_shelf(page, mark)
    train = enter_train(page, mark, f"Attic {size}")

    page.get_by_role("link", name="Make up trains to choose from").click()
    kept = page.get_by_role("button", name="Keep this one: train 1", exact=True)
    expect(kept).to_be_visible(timeout=LONG_MS)
    assert page.locator(".offered > li").count() >= 2
    kept.click()
    expect(page).to_have_url(re.compile(r"/train/\d+/\?before="))
    expect(page.locator(".tests")).to_contain_text("It hauls")
    expect(page.locator(".tests")).to_contain_text("Every rule is kept")

    # swap the last vehicle for the open wagon: the three tests tell it at once
    vehicles = page.locator("svg.train a")
    number = vehicles.count()
    vehicles.last.click()
    take = page.get_by_role("button", name=f"Take it: {mark} 5")
    expect(take).to_be_visible()
    take.click()
    expect(page.locator(".changed")).to_contain_text("Against the rules")
    expect(page.locator(".tests")).to_contain_text("Against the rules")
    expect(page.locator("svg .was")).to_have_count(1)
    page.get_by_role("button", name="Put it back as it was").click()
    expect(page.locator(".tests")).to_contain_text("Every rule is kept")

    # by keyboard alone: to the first vehicle, turn it, demand it
    vehicles.first.focus()
    page.keyboard.press("Enter")
    turn = page.get_by_role("button", name="Turn it round")
    expect(turn).to_be_visible()
    expect(page.locator(".at-work h3")).to_be_focused()  # the part is settled, its keys answer
    turn.press("Enter")
    expect(page.locator("#train-view")).to_contain_text("stands turned round")
    expect(page.locator(".at-work h3")).to_be_focused()
    must = page.get_by_role("button", name="It must be in")
    must.press("Enter")
    expect(must).to_have_attribute("aria-pressed", "true")

    answer = page.request.get(f"{train.split('?')[0]}card.pdf")
    reader = pypdf.PdfReader(io.BytesIO(answer.body()))
    text = " ".join(" ".join(p.extract_text() for p in reader.pages).split())
    assert f"Evening train {mark}" in text
    assert f"Attic {size}" in text
    assert "It hauls." in text
    assert "turned round" in text
    names = [t.partition(" · ")[2] for t in page.locator("ol.rows a.name").all_inner_texts()]
    assert len(names) == number
    assert all(name in text for name in names)
    assert "two to five coaches" in text


def test_a_wrong_value_is_told_at_its_field_and_leaves_the_drawing(opened):
    page = opened("desk")
    draw_line(page, "Attic with a slip", "desk")
    expect(page.locator("#table")).to_have_attribute("open", "")  # an empty line begins with it
    radius = page.get_by_label("Radius mm").nth(2)
    radius.fill("5")
    radius.press("Tab")
    wrong = page.locator("#id_s1-radius_mm-wrong")
    expect(wrong).to_contain_text("5 mm is no radius a train runs through")
    expect(page.locator("svg .platform")).to_have_count(1)
    radius.fill("500")
    radius.press("Tab")
    expect(wrong).to_be_empty()
    expect(page.locator("#drawn")).to_contain_text("section 2 asks 26 ‰")  # 10 and 8128 / 500
