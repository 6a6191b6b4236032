"""Start the decoding child, read its messages, and hold it to its limits."""

import json
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from types import TracebackType
from typing import Any, Literal, NamedTuple, NoReturn, Self

from outshop.errors import MediaError, MediaLimitError
from outshop.media import _wire
from outshop.media.limits import Limits
from outshop.media.sniff import Kind, short_name, sniff

_PASSED_ON = ("PATH", "SYSTEMROOT", "TEMP", "TMPDIR", "LD_LIBRARY_PATH", "DYLD_LIBRARY_PATH")
# ended by the system for its processor time or memory
_OUT_OF_LIMITS = {-getattr(signal, n, 0) for n in ("SIGXCPU", "SIGKILL")} - {0}
_WORDS: dict[str, str] = {"sound": "sound", "video": "clip", "picture": "picture"}


class Message(NamedTuple):
    """One message of the child."""

    kind: bytes
    facts: Any
    raw: bytearray


class Child:
    """One decoding child process over one file; iterating yields its messages.

    Raises
    ------
    MediaError
        The file cannot be used; the sentence names it and says what to do.
    MediaLimitError
        It asks for more than ``limits`` allow.
    """

    def __init__(
        self,
        job: Literal["sound", "video", "picture"],
        path: Path,
        limits: Limits,
        accept: frozenset[Kind],
        **options: Any,
    ) -> None:
        self._name = short_name(path)
        self._limits = limits
        self._waited = 0.0
        self._waiting_since: float | None = None
        self._overdue = ""
        form = _checked_form(path, job, limits, accept)
        order = {"path": str(path.resolve()), "form": form, "limits": asdict(limits), **options}
        self._process = _start(job, order)
        self._closing = threading.Event()
        self._watch = threading.Thread(target=self._guard, daemon=True)
        self._watch.start()

    def messages(self) -> Iterator[Message]:
        """Yield the messages up to the end, or raise what the child refused."""
        while True:
            message = self._read()
            if message.kind == _wire.END:
                return
            if message.kind == _wire.REFUSED:
                error = MediaLimitError if message.facts["kind"] == "limit" else MediaError
                raise error(f"{self._name} {message.facts['why']}")
            yield message

    def head(self) -> Any:
        """Give the facts of the first message; the child is closed when there are none."""
        try:
            first = next(self.messages(), None)
            if first is None or first.kind != _wire.HEAD:
                self._fail()
        except BaseException:
            self.close()
            raise
        return first.facts

    def close(self) -> None:
        """End the child, whatever it is doing."""
        self._closing.set()
        if self._process.poll() is None:
            self._process.kill()
        if self._process.stdout:
            self._process.stdout.close()
        self._process.wait()
        self._watch.join()

    def _read(self) -> Message:
        self._waiting_since = time.monotonic()
        try:
            kind, json_bytes, raw_bytes = _wire.HEADER.unpack(self._take(_wire.HEADER.size))
            if json_bytes > _wire.MAX_JSON or raw_bytes > _wire.MAX_RAW:
                self._fail()
            text = self._take(json_bytes)
            message = Message(kind, json.loads(text) if text else None, self._take(raw_bytes))
        finally:
            self._waited += time.monotonic() - (self._waiting_since or 0.0)
            self._waiting_since = None
        if self._waited > self._limits.wall_s:  # between two looks of the guard
            self._overdue = self._too_long()
            self._fail()
        return message

    def _too_long(self) -> str:
        wall = f"took more than {self._limits.wall_s:g} s to open"
        return f"{wall}: save a shorter or smaller copy and try that"

    def _take(self, count: int) -> bytearray:
        buffer = bytearray(count)
        view, got = memoryview(buffer), 0
        pipe = self._process.stdout
        while got < count:
            step = pipe.readinto(view[got:]) if pipe else 0  # type: ignore[attr-defined]
            if not step:
                self._fail()
            got += step
        return buffer

    def _fail(self) -> NoReturn:
        """Say why the child fell silent."""
        if self._overdue:
            raise MediaLimitError(f"{self._name} {self._overdue}")
        code = self._process.wait()
        if code in _OUT_OF_LIMITS:
            raise MediaLimitError(
                f"{self._name} needed too much time or memory to open and was given up: "
                "save a shorter or smaller copy and try that"
            )
        raise MediaError(
            f"{self._name} broke the decoder: the file is damaged; make or copy it again"
        )

    def _guard(self) -> None:
        """Kill the child when it lets the parent wait too long."""
        while not self._closing.wait(0.2):
            since = self._waiting_since
            if since is None:
                continue
            wait = time.monotonic() - since
            if wait > self._limits.stall_s:
                piece = f"took more than {self._limits.stall_s:g} s over one piece"
                self._overdue = f"{piece}: save a shorter or smaller copy and try that"
            elif wait + self._waited > self._limits.wall_s:
                self._overdue = self._too_long()
            else:
                continue
            self._process.kill()
            return


class Stream:
    """Something being decoded; iterate once, inside ``with``.

    ``warnings`` is complete after the last piece. Memory use does not grow with length.
    """

    def __init__(self, child: Child) -> None:
        self._child = child
        self._facts = child.head()
        self.warnings: tuple[str, ...] = ()

    def _pieces(self) -> Iterator[Message]:
        for message in self._child.messages():
            if message.kind == _wire.WARNING:
                self.warnings += (message.facts,)
            elif message.kind == _wire.DATA:
                yield message

    def close(self) -> None:
        """End the decoder."""
        self._child.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()


def _checked_form(path: Path, job: str, limits: Limits, accept: frozenset[Kind]) -> str:
    """Check size and kind at the door; return the format's name."""
    name = short_name(path)
    try:
        size = path.stat().st_size
    except OSError as problem:
        raise MediaError(f"{name} cannot be read: {problem.strerror}") from problem
    if not path.is_file():
        raise MediaError(f"{name} is no file: choose the {_WORDS[job]} itself")
    if size > limits.file_bytes:
        raise MediaLimitError(
            f"{name} has {size / 1e9:.3g} GB, and at most {limits.file_bytes / 1e9:.3g} GB "
            "are opened: cut it to the minutes that matter"
        )
    found = sniff(path)
    if found.kind not in accept:
        raise MediaError(f"{name} is a {found.form} {found.kind}, not a {_WORDS[job]}")
    return found.form


def _start(job: str, order: dict[str, Any]) -> subprocess.Popen[bytes]:
    environment = {key: os.environ[key] for key in _PASSED_ON if key in os.environ}
    environment |= {
        "PYTHONPATH": os.pathsep.join(p for p in sys.path if p),
        "PYTHONUTF8": "1",
        "PYTHONDONTWRITEBYTECODE": "1",
        "OPENBLAS_NUM_THREADS": "1",
        "OMP_NUM_THREADS": "1",
    }
    return subprocess.Popen(
        [sys.executable, "-m", "outshop.media._child", job, json.dumps(order)],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        env=environment,
        bufsize=0,
    )
