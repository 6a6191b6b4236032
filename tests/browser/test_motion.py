"""The motion page in a browser: one small clip is kept and measured once; then its track, curve,
ruler and moments are looked at and moved by mouse, finger and keys."""

import re

import pytest
from playwright.sync_api import expect

from outshop.rig.clip import Camera, film
from outshop.rig.locomotive import Locomotive
from outshop.rig.programme import Phase, drive

from .steps import WORKING_MS, enter_piece
from .test_accessibility import _axe  # noqa: F401 - the fixture named axe

CAMERA = Camera(width=480, height=270, rate_hz=20, pixels_per_mm=0.8, start_mm=-200, noise=0.5)
# told 0.55: (0.55 - 0.12) / (1 - 0.12) of 0.45 m/s
SPEED = 0.45 * 0.43 / 0.88


@pytest.fixture(name="measured", scope="module")
def _measured(house, chromium, tmp_path_factory):
    """Keep a clip as a person does, and give the address of its page."""
    path = tmp_path_factory.mktemp("clip") / "run.mp4"
    film(drive(Locomotive(), (Phase(0.5, 0), Phase(1.6, 0.55), Phase(0.6, 0)), 1), path, CAMERA)
    context = chromium.new_context(base_url=house.address)
    context.set_default_timeout(20_000)
    page = context.new_page()
    enter_piece(page, "Filmed engine", "1'D1'")
    page.get_by_role("link", name="Film how it moves").click()
    page.get_by_label("Length over buffers, mm").fill("118")
    page.locator("#id_file").set_input_files(path)
    page.get_by_role("button", name="Keep and measure").click()
    expect(page).to_have_url(re.compile(r"/motion/\d+/$"))
    expect(page.locator("#result table").first).to_be_visible(timeout=WORKING_MS)
    yield page.url.removeprefix(house.address)
    context.close()


def speed_shown(page):
    """Give the speed of the table, in m/s."""
    row = page.locator(
        "#result table tr", has=page.get_by_role("rowheader", name="Speed", exact=True)
    )
    return float(re.search(r"0\.\d+", row.inner_text())[0])


def ends(page):
    return [float(page.locator(f"#id_{n}").input_value()) for n in ("x1", "y1", "x2", "y2")]


def shown(page, address):
    page.goto(address)
    handle = page.get_by_role("slider", name="Right end of the ruler")
    expect(handle).to_be_visible()
    handle.scroll_into_view_if_needed()
    return handle


def middle(handle):
    box = handle.bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def painted(canvas):
    """Whether anything is really drawn there."""
    return canvas.evaluate(
        "c => c.getContext('2d').getImageData(0, 0, c.width, c.height).data.some(v => v > 0)"
    )


def past(video, moment):
    """Wait until the clip is past a moment (the page's policy forbids waiting on a string)."""
    video.evaluate(
        "(v, t) => new Promise(done => { const look = () => v.currentTime > t ? done() "
        ": setTimeout(look, 30); look(); })",
        moment,
    )


def test_the_clip_plays_with_its_track_and_the_speed_runs_along(opened, measured):
    page = opened("phone")
    shown(page, measured)
    assert speed_shown(page) == pytest.approx(SPEED, rel=0.06)  # it is not quite there yet
    over, curve = page.locator("[data-over]"), page.locator("[data-curve]")
    assert painted(over)
    assert painted(curve)
    video = page.locator("video")
    box = curve.bounding_box()
    page.mouse.click(box["x"] + box["width"] / 4, box["y"] + 20)  # a quarter of the way
    before = video.evaluate("v => v.currentTime")
    first = curve.screenshot()
    page.get_by_role("button", name="Frame on").click()
    past(video, before)
    page.get_by_role("button", name="Play").click()
    past(video, before + 0.3)
    assert curve.screenshot() != first
    # nothing is wider than the phone
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_the_rulers_end_follows_a_finger(opened, measured):
    page = opened("phone")
    x, y = middle(shown(page, measured))
    x1, y1, x2, _ = ends(page)
    scale = page.locator("[data-over]").bounding_box()["width"] / CAMERA.width
    touch = page.context.new_cdp_session(page)
    for kind, dx in (("touchStart", 0), ("touchMove", -20), ("touchMove", -40)):
        points = [{"x": x + dx, "y": y}]
        touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})
    touch.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    assert ends(page)[2] == pytest.approx(x2 - 40 / scale, abs=2)
    assert ends(page)[:2] == [x1, y1]


def test_the_rulers_end_goes_by_keys_and_by_mouse_and_the_speed_follows(opened, measured):
    page = opened("desk")
    handle = shown(page, measured)
    before = speed_shown(page)
    x1, y1, x2, _ = ends(page)
    assert x2 - x1 == pytest.approx(118 * CAMERA.pixels_per_mm, rel=0.03)
    handle.focus()
    for key in ("ArrowRight", "ArrowRight", "ArrowDown", "Shift+ArrowRight"):
        page.keyboard.press(key)
    assert ends(page) == pytest.approx([x1, y1, x2 + 12, ends(page)[3]], abs=0.06)
    expect(handle).to_have_attribute("aria-valuenow", f"{x2 + 12:.0f}")
    # to twice the length: the speed halves
    x, y = middle(handle)
    scale = page.locator("[data-over]").bounding_box()["width"] / CAMERA.width
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + (x2 - x1 - 12) * scale, y, steps=5)
    page.mouse.up()
    assert ends(page)[2] == pytest.approx(x1 + 2 * (x2 - x1), abs=3)
    page.get_by_role("button", name="Measure with this ruler").click()
    again = page.get_by_role("button", name="Use the model's length again")
    expect(again).to_be_attached(timeout=WORKING_MS)
    assert speed_shown(page) == pytest.approx(before / 2, rel=0.03)
    again.click()
    expect(again).not_to_be_attached(timeout=WORKING_MS)


def test_the_wrong_object_tapped_gets_a_sentence_and_the_right_one_is_measured(opened, measured):
    page = opened("desk")
    shown(page, measured)
    page.get_by_text("Wrong object?").click()
    tap = page.get_by_role("button", name="Tap the right one")
    tap.click()
    aim = page.locator(".aim-layer")
    box = aim.bounding_box()
    aim.click(position={"x": 0.5 * box["width"], "y": 0.05 * box["height"]})
    expect(page.locator("#result .wrong")).to_contain_text(
        "nothing that moves was found there", ignore_case=True, timeout=WORKING_MS
    )
    expect(page.locator("#result .wrong")).to_contain_text("run.mp4")  # by its own name
    # by keys: from the middle down onto the model, which stands there
    tap.click()  # it is open already: something was picked
    for _ in range(2):
        page.keyboard.press("Shift+ArrowDown")
    page.keyboard.press("Enter")
    expect(page.locator("#result table").first).to_be_visible(timeout=WORKING_MS)


def test_a_clip_that_the_browser_cannot_play_shows_a_frame_with_track_and_ruler(opened, measured):
    page = opened("phone")
    page.route("**/file/*", lambda route: route.fulfill(content_type="video/mp4", body="no clip"))
    shown(page, measured)
    expect(page.locator("[data-unplayable]")).to_be_visible()
    still = page.get_by_role("img", name="A frame of the clip")
    expect(still).to_be_visible()
    still.evaluate("i => i.decode()")
    assert still.evaluate("i => i.naturalWidth") == CAMERA.width
    assert painted(page.locator("[data-over]"))
    assert still.bounding_box() == page.locator("[data-over]").bounding_box()


@pytest.mark.parametrize(("size", "colour"), [("phone", "light"), ("desk", "dark")])
def test_axe_finds_nothing_with_all_parts_open(opened, measured, axe, size, colour):
    page = opened(size, colour)
    shown(page, measured)
    page.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
    page.evaluate(axe)
    found = page.evaluate("() => axe.run(document, {preload: false})")
    assert [(rule["id"], [n["html"] for n in rule["nodes"]]) for rule in found["violations"]] == []


def test_a_moment_is_marked_and_its_delay_shown(opened, measured):
    page = opened("desk")
    shown(page, measured)
    page.get_by_text("Moment of the command", exact=True).click()
    page.locator("video").evaluate(
        "v => new Promise(done => { v.onseeked = done; v.currentTime = 0.3; })"
    )
    page.get_by_role("button", name="Mark this moment").click()
    assert float(page.locator("#id_moment_s").input_value()) == pytest.approx(0.3, abs=0.06)
    page.get_by_role("button", name="Measure from this moment").click()
    expect(page.locator("#result")).to_contain_text("Start delay", timeout=WORKING_MS)


def test_a_file_that_is_no_clip_and_a_missing_length_get_a_sentence(opened):
    page = opened("desk")
    piece = enter_piece(page, "Engine filmed wrongly")
    page.goto(f"{piece}film/")
    page.get_by_label("Length over buffers, mm").fill("none")
    text = {
        "name": "clip.mp4",
        "mimeType": "video/mp4",
        "buffer": b"this is text, not a clip\n" * 9,
    }
    page.locator("#id_file").set_input_files(text)
    page.get_by_role("button", name="Keep and measure").click()
    expect(page.get_by_role("alert")).to_contain_text("Length over buffers")
    page.get_by_label("Length over buffers, mm").fill("118")
    page.locator("#id_file").set_input_files(text)
    page.get_by_role("button", name="Keep and measure").click()
    expect(page.get_by_role("alert")).to_contain_text("text")
