"""One server a collection: a lock that the system lifts when its holder dies."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from outshop.errors import StoreError

LOCK_FILE = "server.lock"
ADDRESS_FILE = "server.address"


class HomeInUseError(StoreError):
    """Another server has the collection open; ``address`` says where, if that is known."""

    def __init__(self, home: Path) -> None:
        try:
            self.address = (home / ADDRESS_FILE).read_text(encoding="utf-8").strip()
        except OSError:
            self.address = ""
        where = f" at {self.address}" if self.address else ""
        super().__init__(f"the collection in {home} is open already{where}: close it there first")


@contextmanager
def hold(home: Path) -> Iterator[None]:
    """Hold the collection, or raise :class:`HomeInUseError`."""
    handle = os.open(home / LOCK_FILE, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        try:
            _lock(handle)
        except OSError:
            raise HomeInUseError(home) from None
        yield
    finally:
        os.close(handle)


def tell_address(home: Path, address: str) -> None:
    """Leave the address for whoever tries to open the collection again."""
    (home / ADDRESS_FILE).write_text(address, encoding="utf-8")


def _lock(handle: int) -> None:
    if os.name == "nt":
        import msvcrt

        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined]
    else:
        import fcntl

        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
