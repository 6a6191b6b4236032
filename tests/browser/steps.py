"""What the browser tests do again and again, as a person does it."""

import re

from playwright.sync_api import Page, expect

WORKING_MS = 90_000  # measuring a short recording on a busy machine


def enter_piece(page: Page, name: str, arrangement: str = "") -> str:
    """Enter a piece and give the address of its page."""
    page.goto("/piece/new/")
    page.get_by_label("Name", exact=True).fill(name)
    if arrangement:
        page.get_by_label("Axles, engine and tender").fill(arrangement)
    page.get_by_role("button", name="Enter the piece").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text(name)
    return page.url.removesuffix("#")


def keep_recording(page: Page, piece: str, role: str, data: bytes, name: str = "bench.wav") -> None:
    """Drop a recording on the bench programme and wait until it is measured."""
    send_recording(page, piece, role, data, name)
    expect(page).to_have_url(re.compile(r"/recording/\d+/$"))
    wait_measured(page)


def send_recording(page: Page, piece: str, role: str, data: bytes, name: str) -> None:
    """Drop a recording on the bench programme and send it."""
    page.goto(f"{piece}record/?role={role}")
    page.locator("#id_file").set_input_files(
        {"name": name, "mimeType": "application/octet-stream", "buffer": data}
    )
    page.get_by_role("button", name="Keep and measure").click()


def wait_measured(page: Page) -> None:
    """Wait until the page itself shows that the measuring is over."""
    result = page.locator("#result")
    expect(result).not_to_have_attribute("hx-trigger", re.compile(".*"), timeout=WORKING_MS)
