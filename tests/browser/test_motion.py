"""The motion page in a browser: a clip is kept, measured, drawn over, and its ruler dragged."""

import re

import pytest
from playwright.sync_api import expect

from outshop.rig.clip import Camera, film
from outshop.rig.locomotive import Locomotive
from outshop.rig.programme import Phase, drive

from .steps import WORKING_MS, enter_piece

CAMERA = Camera(width=960, height=540, pixels_per_mm=1.2, start_mm=-300, noise=1)


@pytest.fixture(name="clip", scope="module")
def _clip(tmp_path_factory):
    path = tmp_path_factory.mktemp("clip") / "run.mp4"
    run = drive(Locomotive(), (Phase(0.8, 0), Phase(2.6, 0.55), Phase(1.0, 0)), 1)
    film(run, path, CAMERA)
    return path


def speed_shown(page):
    """Give the speed of the table, in m/s."""
    row = page.locator(
        "#result table tr", has=page.get_by_role("rowheader", name="Speed", exact=True)
    )
    return float(re.search(r"0\.\d+", row.inner_text())[0])


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_a_clip_is_measured_drawn_over_and_its_ruler_dragged(opened, clip, size, request):
    page = opened(size)
    enter_piece(page, f"Filmed engine {size}", "1'D1'")
    page.get_by_role("link", name="Film how it moves").click()
    page.get_by_label("Length over buffers, mm").fill("118")
    page.locator("#id_file").set_input_files(clip)
    page.get_by_role("button", name="Keep and measure").click()
    expect(page).to_have_url(re.compile(r"/motion/\d+/$"))
    expect(page.locator("#result table")).to_be_visible(timeout=WORKING_MS)
    expect(page.locator("[data-curve]")).to_be_visible()
    first = speed_shown(page)
    # told 0.55: (0.55 - 0.12) / (1 - 0.12) of 0.45 m/s
    assert first == pytest.approx(0.45 * 0.43 / 0.88, rel=0.02)
    video = page.locator("video")
    video.evaluate("v => new Promise(done => { v.onseeked = done; v.currentTime = 2.0; })")
    _drawn(page)
    # drag the ruler's right end to twice the length: the speed halves
    x1, y1, x2 = (float(page.locator(f"#id_{n}").input_value()) for n in ("x1", "y1", "x2"))
    assert x2 - x1 == pytest.approx(118 * 1.2, rel=0.02)
    over = page.locator("[data-over]")
    over.scroll_into_view_if_needed()
    box = over.bounding_box()
    scale = box["width"] / 960
    page.mouse.move(box["x"] + x2 * scale, box["y"] + y1 * scale)
    page.mouse.down()
    page.mouse.move(box["x"] + (x1 + 2 * (x2 - x1)) * scale, box["y"] + y1 * scale, steps=5)
    page.mouse.up()
    assert float(page.locator("#id_x2").input_value()) == pytest.approx(x1 + 2 * (x2 - x1), abs=4)
    page.get_by_role("button", name="Measure with this ruler").click()
    expect(page.get_by_role("button", name="Use the model's length again")).to_be_visible(
        timeout=WORKING_MS
    )
    assert speed_shown(page) == pytest.approx(first / 2, rel=0.03)


def _drawn(page):
    """The track and the cursor are really painted over the picture."""
    painted = page.locator("[data-over]").evaluate(
        "c => c.getContext('2d').getImageData(0, 0, c.width, c.height).data.some(v => v > 0)"
    )
    assert painted


def test_the_right_object_is_picked_by_a_tap(opened, clip):
    page = opened("desk")
    enter_piece(page, "Filmed engine to be tapped")
    page.get_by_role("link", name="Film how it moves").click()
    page.get_by_label("Length over buffers, mm").fill("118")
    page.locator("#id_file").set_input_files(clip)
    page.get_by_role("button", name="Keep and measure").click()
    expect(page.locator("#result table")).to_be_visible(timeout=WORKING_MS)
    page.get_by_role("button", name="Tap the right one").click()
    over = page.locator("[data-over]")
    over.scroll_into_view_if_needed()
    box = over.bounding_box()
    page.mouse.click(box["x"] + 0.5 * box["width"], box["y"] + 0.05 * box["height"])
    expect(page.locator("#result .wrong")).to_contain_text(
        "nothing that moves was found there", ignore_case=True, timeout=WORKING_MS
    )


def test_a_file_that_is_no_clip_and_a_missing_length_get_a_sentence(opened):
    page = opened("desk")
    piece = enter_piece(page, "Engine filmed wrongly")
    page.goto(f"{piece}film/")
    page.get_by_label("Length over buffers, mm").fill("none")
    page.locator("#id_file").set_input_files(
        {"name": "clip.mp4", "mimeType": "video/mp4", "buffer": b"this is text, not a clip\n" * 9}
    )
    page.get_by_role("button", name="Keep and measure").click()
    expect(page.get_by_role("alert")).to_contain_text("Length over buffers")
    page.get_by_label("Length over buffers, mm").fill("118")
    page.locator("#id_file").set_input_files(
        {"name": "clip.mp4", "mimeType": "video/mp4", "buffer": b"this is text, not a clip\n" * 9}
    )
    page.get_by_role("button", name="Keep and measure").click()
    expect(page.get_by_role("alert")).to_contain_text("text")
