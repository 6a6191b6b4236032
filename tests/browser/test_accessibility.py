"""axe-core (WCAG 2.2 A and AA rules) finds nothing serious on any page, by day and by night."""

import os
import shutil
import subprocess
from pathlib import Path

import pytest

from . import sounds
from .steps import enter_piece, keep_recording

FOLDER = Path(__file__).parents[2] / ".build" / "axe"
AXE = FOLDER / "node_modules" / "axe-core" / "axe.min.js"


@pytest.fixture(scope="module", name="axe")
def _axe() -> str:
    """Fetch the checker at test time; it is never committed."""
    if not AXE.exists():
        reason = "npm is not here, so axe-core cannot be fetched"
        npm = shutil.which("npm")
        if npm:
            command = [npm, "install", "--prefix", str(FOLDER), "--no-save", "--no-audit"]
            done = subprocess.run(
                [*command, "--no-fund", "axe-core@4"],
                capture_output=True,
                text=True,
                timeout=180,
                check=False,
            )
            reason = f"axe-core cannot be fetched: {done.stderr.strip()[-300:]}"
    if not AXE.exists():
        if os.environ.get("CI") == "true":
            pytest.fail(reason)
        pytest.skip(reason)
    return AXE.read_text(encoding="utf-8")


@pytest.fixture(scope="module", name="addresses")
def _addresses(house, chromium) -> list[str]:
    """Make one of everything and give the addresses of all kinds of page."""
    context = chromium.new_context(base_url=house.address)
    context.set_default_timeout(20_000)
    page = context.new_page()
    piece = enter_piece(page, "Seen by everybody", "1'C1'+2'2'")
    page.get_by_role("button", name="New inspection").click()
    page.get_by_role("link", name="carrying axle a").click()
    page.get_by_role("radio", name="seized").check()
    page.get_by_role("button", name="Keep, next axle").click()
    page.get_by_role("link", name="carrying axle a: seized").wait_for()
    inspection = page.url.split("?")[0].split("#")[0]
    keep_recording(page, piece, "before", sounds.wav(sounds.bench_run(0.16, 10)))
    before = page.url
    keep_recording(page, piece, "after", sounds.wav(sounds.bench_run(0.05, 10)))
    page.goto(inspection)
    page.get_by_role("button", name="Make a job card from this").click()
    page.wait_for_url("**/job/*/")
    job = page.url
    page.goto(f"{piece}run-in/")
    page.get_by_role("button", name="Set the clock").click()
    page.wait_for_url("**/run-in/*/")
    run_in = page.url
    page.goto(f"{piece}care/")
    page.get_by_role("button", name="Oil bearings, grease gears: done today").click()
    page.goto(piece)
    page.get_by_role("link", name="Ran today").click()
    ran = page.url
    page.goto(piece)
    page.get_by_role("button", name="Something ails it").click()
    page.wait_for_url("**/trouble/*/")
    trouble = page.url
    context.close()
    return [
        "/",
        "/shelf/",
        "/shelf/?q=nothing-at-all",
        "/record/",
        "/piece/new/",
        "/piece/99999999/",
        piece,
        f"{piece}edit/",
        f"{inspection}?axle=1",
        f"{piece}record/?role=before",
        before,
        f"{piece}compare/",
        f"{piece}job/",
        job,
        f"{piece}run-in/",
        run_in,
        f"{job}release/",
        f"{piece}history/",
        "/care/",
        "/trains/",
        "/train/new/",
        "/lines/",
        "/recipes/",
        "/recipe/new/",
        "/vehicles/",
        f"{piece}care/",
        f"{piece}meter/",
        f"{piece}meter/?axle=1",
        f"{piece}speeds/",
        f"{piece}clocks/",
        f"{piece}parts/",
        f"{piece}strip-down/?part=axle&part=brushes",
        f"{piece}strip-down/body/",
        "/parts/",
        ran,
        trouble,
        f"{trouble}reasoning/",
        "/learnt/",
    ]


@pytest.mark.parametrize(("size", "colour"), [("phone", "light"), ("desk", "dark")])
def test_no_page_has_a_serious_fault_and_none_is_wider_than_the_screen(
    opened, axe, addresses, size, colour
):
    page = opened(size, colour)
    faults = []
    for address in addresses:
        page.goto(address)
        page.evaluate(axe)
        found = page.evaluate(
            "() => axe.run(document, {preload: false, runOnly: "
            "['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice']})"
        )
        faults += [
            f"{address}: {rule['id']} at {node['target']}: {node['failureSummary']}"
            for rule in found["violations"]
            if rule["impact"] in ("serious", "critical")
            for node in rule["nodes"][:3]
        ]
        wider = page.evaluate("document.documentElement.scrollWidth - innerWidth")
        if wider > 0:
            faults.append(f"{address}: {wider} px wider than the screen")
    assert faults == []


def test_a_thumb_finds_every_button(opened, addresses):
    """Buttons are at least 44 px high on a phone (WCAG 2.5.5; 24 px is the AA minimum)."""
    page = opened("phone")
    small = []
    for address in addresses:
        page.goto(address)
        small += page.evaluate(
            "address => [...document.querySelectorAll('button, .button, select')]"
            ".filter(e => e.checkVisibility() && e.getBoundingClientRect().height < 44"
            " && !e.closest('.seek')).map(e => address + ': ' + e.textContent.trim().slice(0, 30))",
            address,
        )
    assert small == []
