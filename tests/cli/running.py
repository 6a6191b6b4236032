"""The real command line as a subprocess, with a home of its own."""

import contextlib
import functools
import http.client
import io
import os
import re
import socket
import subprocess
import sys
import tempfile
import time
import urllib.parse
import uuid
import wave
from collections.abc import Iterator
from pathlib import Path

import numpy as np

COMMAND = [sys.executable, "-m", "outshop"]


def outshop(
    home: Path, *words: str, code: int = 0, **more: str
) -> subprocess.CompletedProcess[str]:
    """Run one command to its end and expect its exit code."""
    done = subprocess.run(
        [*COMMAND, *words],
        env=os.environ | {"OUTSHOP_HOME": str(home)} | more,
        capture_output=True,
        text=True,
        timeout=120,
        stdin=subprocess.DEVNULL,
    )
    assert done.returncode == code, done.stderr
    assert "Traceback" not in done.stderr
    return done


@functools.cache
def _empty_database() -> bytes:
    """Make an empty collection once: the changes of form take a second or more."""
    with tempfile.TemporaryDirectory() as folder:
        outshop(Path(folder), "worker", "--once")
        return (Path(folder) / "outshop.sqlite3").read_bytes()


def begun(home: Path) -> Path:
    """Give a home with an empty collection in it."""
    home.mkdir(exist_ok=True)
    (home / "outshop.sqlite3").write_bytes(_empty_database())
    return home


class Server:
    """A running `outshop open`."""

    def __init__(self, home: Path, *words: str, **more: str) -> None:
        self.home = home
        self.process = subprocess.Popen(
            [*COMMAND, "open", "--no-browser", *words],
            env=os.environ | {"OUTSHOP_HOME": str(home)} | more,
            stdout=subprocess.PIPE,
            text=True,
            start_new_session=True,
        )
        line = self.process.stdout.readline()
        found = re.search(r"http://127\.0\.0\.1:(\d+)/", line)
        assert found, f"no address in {line!r}"
        self.port = int(found[1])
        self.cookies: dict[str, str] = {}

    def ask(
        self, path: str, *, body: bytes | None = None, **headers: str
    ) -> tuple[int, http.client.HTTPMessage, bytes]:
        """Send one request; cookies are kept."""
        link = http.client.HTTPConnection("127.0.0.1", self.port, timeout=120)
        if self.cookies:
            headers["Cookie"] = "; ".join(f"{k}={v}" for k, v in self.cookies.items())
        try:
            link.request("GET" if body is None else "POST", path, body, headers)
            answer = link.getresponse()
            data = answer.read()
        finally:
            link.close()
        for cookie in answer.headers.get_all("Set-Cookie", []):
            name, _, value = cookie.split(";")[0].partition("=")
            self.cookies[name.strip()] = value
        return answer.status, answer.headers, data

    def send_form(self, path: str, fields: dict[str, str]) -> tuple[int, str, str]:
        """Send a form as a browser does; give status, place to go and page."""
        fields = {"csrfmiddlewaretoken": self.csrf()} | fields
        body = urllib.parse.urlencode(fields).encode()
        kind = {"Content-Type": "application/x-www-form-urlencoded"}
        status, headers, data = self.ask(path, body=body, **kind)
        return status, headers.get("Location", ""), data.decode()

    def send_file(
        self, path: str, name: str, data: bytes, fields: dict[str, str] | None = None
    ) -> tuple[int, str, str]:
        """Send a file as a browser does; give status, place to go and page."""
        mark = uuid.uuid4().hex
        fields = {"csrfmiddlewaretoken": self.csrf()} | (fields or {})
        parts = [
            f'--{mark}\r\nContent-Disposition: form-data; name="{key}"\r\n\r\n{value}\r\n'.encode()
            for key, value in fields.items()
        ]
        quoted = name.replace('"', "%22")
        head = f'--{mark}\r\nContent-Disposition: form-data; name="file"; filename="{quoted}"\r\n'
        parts.append(head.encode() + b"Content-Type: audio/wav\r\n\r\n" + data + b"\r\n")
        parts.append(f"--{mark}--\r\n".encode())
        kind = {"Content-Type": f"multipart/form-data; boundary={mark}"}
        status, headers, page = self.ask(path, body=b"".join(parts), **kind)
        return status, headers.get("Location", ""), page.decode()

    def csrf(self) -> str:
        """Give the token of the forms; any page that holds one sets it."""
        if "outshop-csrf" not in self.cookies:
            self.ask("/piece/new/")
        return self.cookies["outshop-csrf"]

    def stop(self) -> str:
        """Ask it to end, and give what it printed."""
        self.process.terminate()
        # communicate() would lose what readline() has read ahead
        with self.process.stdout as printed:
            said = printed.read()
        self.process.wait(timeout=20)
        return said

    def kill(self) -> None:
        """Kill it like a power cut."""
        self.process.kill()
        self.process.communicate(timeout=20)


@contextlib.contextmanager
def server(home: Path, *words: str, **more: str) -> Iterator[Server]:
    """Run a server, and never leave it behind."""
    running = Server(home, *words, "--port", str(free_port()), **more)
    try:
        yield running
    finally:
        if running.process.poll() is None:
            running.stop()


def free_port() -> int:
    """Give a port that is free just now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def wait_until(true: object, seconds: float = 20) -> None:
    """Wait for something that another process does."""
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, "waited in vain"
        time.sleep(0.05)


def noise(seconds: float, seed: int = 1) -> bytes:
    """A wav of noise; each seed gives other bytes."""
    samples = np.random.default_rng(seed).normal(0, 2000, int(8000 * seconds)).astype("<i2")
    file = io.BytesIO()
    with wave.open(file, "wb") as target:
        target.setparams((1, 2, 8000, len(samples), "NONE", ""))
        target.writeframes(samples.tobytes())
    return file.getvalue()
