"""The media store: originals under their SHA-256, written so that nothing is half there.

Layout below the home folder::

    media/ab/abcdef...   the originals, read-only
    incoming/            files on their way in; what lies here after a crash is rubbish
    derived/             thumbnails, pictures of spectra: can be made again
"""

import errno
import hashlib
import io
import os
import re
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from django.conf import settings
from django.db import DatabaseError, OperationalError
from django.utils.http import content_disposition_header

from outshop.errors import InputError, MissingError, StoreError

CHUNK = 1 << 20  # bytes read at a time
SHA256 = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True)
class Kept:
    """What the store knows of a file: its checksum and its size in bytes."""

    sha256: str
    size: int


def home() -> Path:
    """Give the collection's folder."""
    return Path(settings.OUTSHOP_HOME)


def path_of(sha256: str) -> Path:
    """Give where the file of this checksum lies.

    Raises
    ------
    MissingError
        The text is no checksum, so that it can never become a path.
    """
    if not SHA256.fullmatch(sha256):
        message = "this is not the number of a kept file"
        raise MissingError(message)
    return home() / "media" / sha256[:2] / sha256


def keep(source: BinaryIO) -> Kept:
    """Keep a copy of ``source``; the same bytes are kept only once.

    The bytes go to a new file, are flushed to the disk and only then get their final name,
    so that a crash leaves the file whole or not there.

    Raises
    ------
    InputError
        The source is empty.
    StoreError
        The disk is full or cannot be written.
    """
    temporary: Path | None = None
    try:
        incoming = _folder(home() / "incoming")
        handle, name = tempfile.mkstemp(dir=incoming)
        temporary = Path(name)
        with os.fdopen(handle, "wb") as target:
            kept = _copy(source, target)
            target.flush()
            os.fsync(target.fileno())
        if kept.size == 0:
            message = "the file is empty: choose another, or record again"
            raise InputError(message)
        _settle(temporary, path_of(kept.sha256), kept)
    except OSError as problem:
        raise as_store_error(problem) or problem from problem
    finally:
        if temporary is not None:
            temporary.unlink(missing_ok=True)
    return kept


def open_read(path: Path) -> BinaryIO:
    """Open a kept file, or say that it is gone."""
    try:
        return path.open("rb")
    except FileNotFoundError as problem:
        message = (
            f"the kept file {path.name[:12]} is gone: run `outshop check` to see what is missing"
        )
        raise StoreError(message) from problem
    except OSError as problem:
        raise as_store_error(problem) or problem from problem


def size_of(path: Path) -> int:
    """Give a kept file's size in bytes."""
    with open_read(path) as file:
        return os.fstat(file.fileno()).st_size


def checksum(path: Path) -> Kept:
    """Read a file and give its checksum and size."""
    with open_read(path) as file:
        return _copy(file, None)


def all_files() -> Iterator[Path]:
    """Give every file in the store, in order of name."""
    yield from sorted(p for p in (home() / "media").glob("*/*") if p.is_file())


def unfinished() -> list[Path]:
    """Give files that were on their way in when the program was cut off."""
    return sorted((home() / "incoming").glob("*"))


def disposition(name: str, *, inline: bool) -> str:
    """Give a Content-Disposition header for any name, whatever characters it holds."""
    plain = "".join(c for c in name if c.isprintable() and c not in '/\\"') or "file"
    return content_disposition_header(not inline, plain) or ""


def as_store_error(problem: Exception) -> StoreError | None:
    """Give the sentence for a store that cannot be used, or None for any other fault."""
    if isinstance(problem, OperationalError | DatabaseError):
        return _database_error(str(problem).lower())
    if not isinstance(problem, OSError):
        return None
    if problem.errno in (errno.ENOSPC, errno.EDQUOT):
        return StoreError("the disk is full: nothing was changed; make room and try again")
    if problem.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return StoreError(
            f"the folder {settings.OUTSHOP_HOME} cannot be written: nothing was changed; "
            "check whose it is"
        )
    if problem.errno == errno.EIO:
        return StoreError("the disk reports a fault: save a backup elsewhere before anything else")
    return None


def _database_error(text: str) -> StoreError | None:
    if "locked" in text or "busy" in text:
        return StoreError(
            "the collection is in use by something else right now: nothing was changed; "
            "try again in a moment"
        )
    if "full" in text:
        return StoreError("the disk is full: nothing was changed; make room and try again")
    if "readonly" in text or "unable to open" in text:
        return StoreError(
            f"the database in {settings.OUTSHOP_HOME} cannot be written: check whose folder it is"
        )
    if "malformed" in text or "not a database" in text:
        return StoreError(
            "the database is damaged: stop here and bring back the last backup by `outshop restore`"
        )
    return None


def _copy(source: BinaryIO, target: BinaryIO | None) -> Kept:
    digest, size = hashlib.sha256(), 0
    while chunk := source.read(CHUNK):
        digest.update(chunk)
        size += len(chunk)
        if target is not None:
            target.write(chunk)
    return Kept(digest.hexdigest(), size)


def _settle(temporary: Path, final: Path, kept: Kept) -> None:
    """Give the flushed file its name, unless whole bytes lie there already."""
    _folder(final.parent)
    if final.exists() and final.stat().st_size == kept.size and checksum(final) == kept:
        return
    temporary.chmod(0o400)
    temporary.replace(final)
    _flush_folder(final.parent)


def _folder(path: Path) -> Path:
    if not path.is_dir():
        path.mkdir(mode=0o700, parents=True, exist_ok=True)
        _flush_folder(path.parent)
    return path


def _flush_folder(path: Path) -> None:
    """Flush a folder's entries; Windows has no such call and needs none."""
    if os.name == "nt":
        return
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


class Part(io.RawIOBase):
    """The next ``length`` bytes of an open file, as a file."""

    def __init__(self, file: BinaryIO, length: int) -> None:
        self._file, self._left = file, length

    def readable(self) -> bool:
        """Tell that it can be read."""
        return True

    def readinto(self, buffer: bytearray | memoryview) -> int:  # type: ignore[override]
        """Fill the buffer as far as the part goes."""
        data = self._file.read(min(len(buffer), self._left))
        buffer[: len(data)] = data
        self._left -= len(data)
        return len(data)

    def close(self) -> None:
        """Close the file below it."""
        self._file.close()
        super().close()
