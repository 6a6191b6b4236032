"""One locomotive from arrival to release, in the browser, on real files."""

import io
import re

import pytest
from playwright.sync_api import expect
from pypdf import PdfReader

from . import sounds
from .steps import keep_recording


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_from_arrival_to_a_release_sheet_that_says_it_got_quieter(opened, size):
    page = opened(size)
    name = f"Harbour Line No. 4 ({size})"

    # a new piece, the arrangement drawn while it is typed
    page.goto("/piece/new/")
    page.get_by_label("Name", exact=True).fill(name)
    page.get_by_label("Axles, engine and tender").press_sequentially("1'D1'+2'2'")
    expect(page.locator("#preview svg")).to_have_count(2)
    expect(page.locator("#preview")).to_contain_text("4 of 10 axles driven (2-8-2)")
    page.get_by_role("button", name="Enter the piece").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text(name)
    piece = page.url

    # looked over: the first axle is seized, the second free
    page.get_by_role("button", name="New inspection").click()
    page.get_by_role("link", name="carrying axle a").click()
    page.get_by_role("radio", name="seized").check()
    page.get_by_label("Note").first.fill("does not turn at all")
    page.get_by_role("button", name="Keep, next axle").click()
    expect(page.get_by_role("link", name="carrying axle a: seized")).to_be_visible()
    expect(page.get_by_text("driven axle 1", exact=False).first).to_be_visible()
    page.get_by_role("radio", name="free").check()
    page.get_by_role("button", name="Keep, next axle").click()
    expect(page.get_by_role("link", name="driven axle 1: free")).to_be_visible()
    page.get_by_label("Handrails", exact=True).select_option(label="missing")
    expect(page.locator("#summary")).to_contain_text("Axle a: seized")
    expect(page.locator("#summary")).to_contain_text("Missing: Handrails")
    inspection = page.url.split("?")[0].split("#")[0]

    # before; the page warns of the seized axle first
    page.goto(f"{piece}record/?role=before")
    expect(page.locator(".stop-sign")).to_contain_text("Axle a: seized")
    keep_recording(page, piece, "before", sounds.wav(sounds.bench_run(0.16)))
    expect(page.locator("#result")).to_contain_text("Running level")

    # the job card answers the findings; every step is ticked with one tap
    page.goto(inspection)
    page.get_by_role("button", name="Make a job card from this").click()
    expect(page.locator(".stop-sign")).to_contain_text("Axle a: seized")
    expect(page.locator(".steps .caution").first).to_be_visible()
    job = page.url
    ticks = page.locator(".tick[aria-pressed=false]")
    count = ticks.count()
    assert count > 5
    for left in range(count, 0, -1):
        ticks.first.click()
        expect(ticks).to_have_count(left - 1)
    expect(page.locator("#progress")).to_contain_text(f"{count} of {count} steps done")

    # run in, both ways; a reload loses nothing, and each turn is confirmed
    page.get_by_role("link", name="Run in", exact=True).last.click()
    page.get_by_label("Forward, minutes").fill("20")
    page.get_by_role("button", name="Set the clock").click()
    page.get_by_role("button", name="Start").click()
    page.reload()
    page.get_by_role("button", name="Turned: go on").click()
    page.get_by_role("button", name="Stopped: finish").click()
    expect(page.locator(".verdict")).to_contain_text("Run in.")
    expect(page.locator(".verdict")).to_contain_text("30:00")

    # after, and the sheet that compares
    keep_recording(page, piece, "after", sounds.wav(sounds.bench_run(0.05, seed=2)))
    page.get_by_role("link", name="See before and after").click()
    expect(page.locator(".verdict")).to_contain_text("Better.")
    row = page.get_by_role("row", name=re.compile("Running level"))
    expect(row).to_contain_text("better")
    expect(row.locator("svg")).to_be_visible()
    changed = row.locator("td").nth(2).inner_text()
    # the 1 kHz tone fell by 20 log10(0.16 / 0.05) = 10.1 dB, the rush beneath it stayed
    quieter = float(re.search(r"−([\d.]+)", changed)[1])
    assert quieter == pytest.approx(10.1, abs=0.4)

    # released: the card is closed, the sheet signed, the PDF says the same
    page.goto(job)
    page.get_by_role("button", name="The job is done").click()
    page.get_by_role("link", name="Release sheet").click()
    page.get_by_label("Name for the signature line").fill("R. Invented")
    page.get_by_role("button", name="Write the release sheet").click()
    address = page.get_by_role("link", name="Open the PDF").get_attribute("href")
    answer = page.request.get(address)
    assert answer.headers["content-type"] == "application/pdf"
    text = " ".join(
        "".join(p.extract_text() for p in PdfReader(io.BytesIO(answer.body())).pages).split()
    )
    assert name in text
    assert "Axle a: seized" in text
    assert "Better" in text
    assert "R. Invented" in text
    assert f"{quieter:g}" in text

    # all of it stands on the piece's page, and in its history
    page.goto(piece)
    expect(page.locator("#papers")).to_contain_text("Release sheet 1")
    expect(page.locator("#jobs")).to_contain_text("done")
    expect(page.locator(".title-block")).to_contain_text("0.5 h")
    page.get_by_role("link", name="What was changed, and when").click()
    expect(page.get_by_text("Release sheet: ")).to_be_visible()
