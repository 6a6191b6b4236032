"""Small copies of pictures, made once; they can be made again at any time."""

import contextlib
import os
import tempfile
from pathlib import Path

from outshop.media import picture
from outshop.records import store

SIDE = 480  # pixels: sharp at 240 px on a phone's double-density screen


def path_of(sha256: str) -> Path:
    """Give the small copy of a kept picture; make it when it is not there."""
    path = place(sha256, f"{SIDE}.jpg")
    if not path.is_file():
        original = store.path_of(sha256)
        store.size_of(original)  # says in a sentence when it is gone
        write(sha256, picture.thumbnail(original, SIDE).data)
    return path


def write(sha256: str, data: bytes) -> None:
    """Keep a small copy; failing to is no loss."""
    write_to(place(sha256, f"{SIDE}.jpg"), data)


def write_to(path: Path, data: bytes) -> None:
    """Write a derived file whole or not at all; failing to is no loss."""
    with contextlib.suppress(OSError):
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=path.parent)
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        Path(name).replace(path)


def place(sha256: str, ending: str) -> Path:
    """Give where something derived from a kept file lies."""
    original = store.path_of(sha256)
    return store.home() / "derived" / original.parent.name / f"{sha256}-{ending}"
