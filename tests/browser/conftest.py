"""Browser tests: the real command line as a subprocess, headless Chromium, two sizes."""

import contextlib
import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from urllib.parse import urlsplit

import pytest

CHROMIUM = os.environ.get("CHROMIUM") or shutil.which("chromium") or "/usr/bin/chromium"
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    # a microphone that beeps, so that the recorder is tested for real
    "--use-fake-device-for-media-stream",
    "--use-fake-ui-for-media-stream",
]
SIZES = {"phone": (390, 844), "desk": (1440, 900)}
CLOCK_RATE = 600  # ten minutes of run-in last a second


def pytest_collection_modifyitems(items):
    """Keep the browser tests together on one worker: they share a server and a browser."""
    for item in items:
        if "tests/browser" in item.nodeid.replace("\\", "/"):
            item.add_marker(pytest.mark.browser)
            item.add_marker(pytest.mark.xdist_group("browser"))


@dataclass
class House:
    """A running Outshop with a home of its own."""

    address: str
    home: Path
    process: subprocess.Popen[bytes] = field(repr=False)


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def wait_for(address: str, process: subprocess.Popen[bytes], log: Path) -> None:
    ends = time.monotonic() + 90
    while time.monotonic() < ends:
        if process.poll() is not None:
            pytest.fail(f"outshop open ended at once:\n{log.read_text()}")
        refused = contextlib.suppress(OSError)
        with refused, urllib.request.urlopen(address, timeout=30) as answer:
            if answer.status == 200:
                return
        time.sleep(0.2)
    pytest.fail(f"outshop open did not answer in 90 s:\n{log.read_text()}")


@pytest.fixture(scope="session", name="house")
def _house(tmp_path_factory) -> Iterator[House]:
    home = tmp_path_factory.mktemp("home")
    log = tmp_path_factory.mktemp("log") / "open.log"
    port = free_port()
    environment = os.environ | {
        "OUTSHOP_HOME": str(home),
        "OUTSHOP_CLOCK_RATE": str(CLOCK_RATE),
        "OMP_NUM_THREADS": "1",
        "OPENBLAS_NUM_THREADS": "1",
    }
    environment.pop("DJANGO_SETTINGS_MODULE", None)
    command = [sys.executable, "-m", "outshop", "open", "--no-browser", "--port", str(port)]
    with log.open("wb") as output:
        process = subprocess.Popen(command, env=environment, stdout=output, stderr=output)
        try:
            address = f"http://127.0.0.1:{port}"
            wait_for(address + "/", process, log)
            yield House(address, home, process)
        finally:
            process.terminate()
            try:
                process.wait(20)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()
    problems = [line for line in log.read_text().splitlines() if "Traceback" in line]
    assert not problems, log.read_text()


@pytest.fixture(scope="session", name="chromium")
def _chromium():
    if not Path(CHROMIUM).exists():
        reason = "no Chromium here: install it (Debian: apt install chromium)"
        if os.environ.get("CI") == "true":
            pytest.fail(reason)
        pytest.skip(reason)
    from playwright.sync_api import expect, sync_playwright

    expect.set_options(timeout=20_000)  # the machine may be busy; a fault costs time, no pass does
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield browser
        browser.close()


class Guard:
    """Watches a page: nothing leaves this machine, nothing breaks the content policy."""

    def __init__(self, page):
        self.strangers: list[str] = []
        self.complaints: list[str] = []
        page.on("request", self._asked)
        page.on("console", self._said)
        page.on("pageerror", lambda error: self.complaints.append(str(error)))

    def _asked(self, request) -> None:
        parts = urlsplit(request.url)
        if parts.scheme not in ("blob", "data") and parts.hostname != "127.0.0.1":
            self.strangers.append(request.url)

    def _said(self, message) -> None:
        # an answer of 400 or 404 is logged by the browser itself and is no fault of a page
        if message.type == "error" and "Failed to load resource" not in message.text:
            self.complaints.append(message.text)
        if "Content Security Policy" in message.text:
            self.complaints.append(message.text)

    def check(self) -> None:
        assert self.strangers == []
        assert [c for c in self.complaints if "Response Status Error Code" not in c] == []


@pytest.fixture(name="opened")
def _opened(house, chromium):
    """Give a function that opens a page of a size; all are checked and closed at the end."""
    contexts, guards = [], []

    def new(size: str = "desk", colour: str = "light"):
        width, height = SIZES[size]
        context = chromium.new_context(
            base_url=house.address,
            viewport={"width": width, "height": height},
            color_scheme=colour,
            has_touch=size == "phone",
            permissions=["microphone"],
        )
        context.set_default_timeout(20_000)
        contexts.append(context)
        page = context.new_page()
        guards.append(Guard(page))
        return page

    yield new
    for context in contexts:
        context.close()
    for guard in guards:
        guard.check()
