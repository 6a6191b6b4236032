"""Serve the pages, with a worker beside, until somebody stops it."""

import logging
import os
import signal
import socket
import subprocess
import sys
import threading
import webbrowser
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from datetime import timedelta
from pathlib import Path
from types import FrameType
from typing import Any

import waitress
from django.conf import settings
from django.contrib.auth.hashers import make_password

from outshop.errors import InputError, OutshopError
from outshop.records import services, store
from outshop.records.models import MediaFile
from outshop.site import lock

log = logging.getLogger("outshop")

PORT = 8642  # ours, no registered service
PORTS_TRIED = 20
THREADS = 8  # a few people at once; SQLite writes one after another anyway
WORKER_CHECK_S = 2.0
QUIET = timedelta(minutes=15)  # a worker elsewhere that showed nothing for so long is gone
SHORTEST_PASSPHRASE = 8  # characters


def serve(
    *,
    port: int | None,
    passphrase: str | None = None,
    browser: bool = True,
    say: Callable[[str], None] = print,
) -> None:
    """Open the collection's pages; comes back when it is stopped.

    Parameters
    ----------
    port : int or None
        None takes the usual one, or the next that is free.
    passphrase : str or None
        Open to the local network for those who know it; None keeps to this machine.
    browser : bool
        Show the pages at once.
    say : callable
        Is given what the person should read.

    Raises
    ------
    HomeInUseError
        Another server has this collection open.
    InputError
        The port is taken, or the passphrase too short.
    """
    # a signal may come at any line below: it always ends here, with everything closed
    with suppress(KeyboardInterrupt), ExitStack() as stack:
        stack.enter_context(lock.hold(Path(settings.OUTSHOP_HOME)))
        for wanted in (signal.SIGINT, signal.SIGTERM):  # SIGINT too: some shells have it ignored
            stack.callback(signal.signal, wanted, signal.signal(wanted, _stop))
        if passphrase is not None:
            _open_to_network(passphrase)
        repair()
        lan = passphrase is not None
        server = _listen("0.0.0.0" if lan else "127.0.0.1", port)  # noqa: S104 - asked for
        stack.callback(server.close)
        stack.enter_context(_worker())
        address = f"http://127.0.0.1:{server.effective_port}/"
        lock.tell_address(Path(settings.OUTSHOP_HOME), address)
        _announce(address, server.effective_port, lan=lan, say=say)
        if browser:
            threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()
        server.run()
    say("Outshop is closed.")


def repair() -> None:
    """Undo what a crash cut off, and take up again what it left waiting."""
    known = set(MediaFile.objects.values_list("sha256", flat=True))
    removed = store.recover(known.__contains__)
    if removed:
        log.warning("%d unfinished uploads were removed", removed)
    repair_queue()


def repair_queue() -> None:
    """Send again what no worker is at."""
    alone = "sqlite3" in settings.DATABASES["default"]["ENGINE"]  # else others may be at it
    services.resume_interrupted(quiet_for=timedelta(0) if alone else QUIET)


def _listen(host: str, port: int | None) -> Any:
    from outshop.site.wsgi import application

    tried = [port] if port is not None else [PORT + i for i in range(PORTS_TRIED)]
    for number in tried:
        try:
            return waitress.create_server(
                application,
                host=host,
                port=number,
                threads=THREADS,
                ident=None,
                max_request_body_size=settings.OUTSHOP_LARGEST_UPLOAD + 1024**2,
                channel_timeout=300,
            )
        except OSError:
            continue
        except (ValueError, OverflowError):
            break
    message = f"port {tried[0]} is in use or not allowed: name another with --port"
    raise InputError(message)


@contextmanager
def _worker() -> Iterator[None]:
    """Keep one worker going; it ends by itself when this process dies."""
    closing = threading.Event()
    current = [_start_worker()]

    def watch() -> None:
        while not closing.wait(WORKER_CHECK_S):
            if current[0].poll() is not None:
                log.error("the worker stopped (%s); another is started", current[0].returncode)
                with suppress(OutshopError):  # said again at the next start
                    repair_queue()
                current[0] = _start_worker()

    watcher = threading.Thread(target=watch, daemon=True)
    watcher.start()
    try:
        yield
    finally:
        closing.set()
        watcher.join()
        _end(current[0])


def _start_worker() -> "subprocess.Popen[bytes]":
    environment = {**os.environ, "OUTSHOP_HOME": str(settings.OUTSHOP_HOME)}
    command = [sys.executable, "-m", "outshop", "worker", "--while-parent-lives"]
    return subprocess.Popen(command, stdin=subprocess.PIPE, env=environment)


def _end(worker: "subprocess.Popen[bytes]") -> None:
    """Close the worker's input, which ends it; kill it if it does not."""
    if worker.stdin is not None:
        worker.stdin.close()
    worker.terminate()
    try:
        worker.wait(timeout=5)
    except subprocess.TimeoutExpired:
        worker.kill()
        worker.wait()


def _open_to_network(passphrase: str) -> None:
    if len(passphrase) < SHORTEST_PASSPHRASE:
        message = f"the passphrase needs at least {SHORTEST_PASSPHRASE} characters"
        raise InputError(message)
    settings.OUTSHOP_PASSPHRASE = make_password(passphrase)
    name = socket.gethostname()
    settings.ALLOWED_HOSTS = [*settings.ALLOWED_HOSTS, lan_address(), name, f"{name}.local"]


def lan_address() -> str:
    """Give this machine's address in the local network; nothing is sent to find it."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # an address for documentation (RFC 5737)
        except OSError:
            return "127.0.0.1"
        return str(probe.getsockname()[0])


def _announce(address: str, port: int, *, lan: bool, say: Callable[[str], None]) -> None:
    say(f"Outshop is open at {address} - stop it with Ctrl-C.")
    if not lan:
        return
    import segno

    outside = f"http://{lan_address()}:{port}/"
    say(f"From a phone in the same network: {outside} (the passphrase is asked for)")
    matrix = segno.make(outside, error="m").matrix_iter(scale=1, border=2)
    rows = [list(row) for row in matrix]
    for upper, lower in zip(rows[::2], [*rows[1::2], [0] * len(rows[0])], strict=False):
        say("".join(_half_blocks(a, b) for a, b in zip(upper, lower, strict=True)))


def _half_blocks(upper: int, lower: int) -> str:
    """Draw two modules, one above the other, light on the terminal's dark."""
    return {(0, 0): "█", (0, 1): "▀", (1, 0): "▄", (1, 1): " "}[upper & 1, lower & 1]


def _stop(_signal: int, _frame: FrameType | None) -> None:
    for heard in (signal.SIGINT, signal.SIGTERM):  # once is enough: closing is not cut short
        signal.signal(heard, signal.SIG_IGN)
    raise KeyboardInterrupt
