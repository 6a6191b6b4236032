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
import sqlite3
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from django.conf import settings
from django.db import DatabaseError
from django.utils.http import content_disposition_header

from outshop.errors import InputError, MissingError, StoreError

CHUNK = 1 << 20  # bytes read at a time
SHA256 = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True)
class Incoming:
    """A received file: flushed to the disk, without a name in the store."""

    path: Path
    sha256: str
    size: int  # bytes


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


def receive(source: BinaryIO) -> Incoming:
    """Copy ``source`` into the home folder and flush it; it has no name in the store yet.

    Raises
    ------
    InputError
        The source is empty.
    StoreError
        The disk is full or cannot be written.
    """
    temporary: Path | None = None
    try:
        handle, name = tempfile.mkstemp(dir=incoming_folder(), suffix=".part")
        temporary = Path(name)
        with os.fdopen(handle, "wb") as target:
            kept = _copy(source, target)
            target.flush()
            os.fsync(target.fileno())
        _refuse_empty(kept)
    except BaseException as problem:
        if temporary is not None:
            temporary.unlink(missing_ok=True)
        if isinstance(problem, OSError):
            raise as_store_error(problem) or problem from problem
        raise
    return Incoming(temporary, kept.sha256, kept.size)


def settle(incoming: Incoming) -> Path:
    """Give the received file its final name and leave a mark until :func:`confirm`.

    The same bytes are kept only once. After a crash between the two, :func:`recover` knows
    by the mark that the file may have no row.
    """
    final = path_of(incoming.sha256)
    try:
        _mark(incoming.sha256).touch()
        _folder(final.parent)
        if not _is_whole(final, incoming):
            incoming.path.chmod(0o400)
            incoming.path.replace(final)
            flush_folder(final.parent)
    except OSError as problem:
        raise as_store_error(problem) or problem from problem
    return final


def confirm(sha256: str) -> None:
    """Take the mark away: the row is committed."""
    _mark(sha256).unlink(missing_ok=True)


def discard(incoming: Incoming) -> None:
    """Throw a received file away, if it is still there."""
    incoming.path.unlink(missing_ok=True)


def recover(is_known: Callable[[str], bool]) -> int:
    """Undo what a crash cut off; call it while nothing else writes. Give how many files went.

    Parameters
    ----------
    is_known : callable
        Tells whether a checksum has a row.
    """
    removed = 0
    for path in unfinished():
        if path.suffix == ".mark":
            if not is_known(path.stem):
                path_of(path.stem).unlink(missing_ok=True)
                removed += 1
        else:
            removed += 1
        path.unlink(missing_ok=True)
    return removed


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


def incoming_folder() -> Path:
    """Give the folder for files on their way in; make it when it is not there."""
    return _folder(home() / "incoming")


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
    if isinstance(problem, DatabaseError | sqlite3.Error):
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


def _refuse_empty(kept: Kept) -> None:
    if kept.size == 0:
        message = "the file is empty: choose another, or record again"
        raise InputError(message)


def _is_whole(path: Path, incoming: Incoming) -> bool:
    """Tell whether the very same bytes lie there already."""
    if not path.exists() or path.stat().st_size != incoming.size:
        return False
    return checksum(path).sha256 == incoming.sha256


def _mark(sha256: str) -> Path:
    return home() / "incoming" / f"{sha256}.mark"


def _folder(path: Path) -> Path:
    if not path.is_dir():
        path.mkdir(mode=0o700, parents=True, exist_ok=True)
        flush_folder(path.parent)
    return path


def flush_file(path: Path) -> None:
    """Flush a file that was written and closed."""
    with path.open("rb+") as file:
        os.fsync(file.fileno())


def flush_folder(path: Path) -> None:
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
