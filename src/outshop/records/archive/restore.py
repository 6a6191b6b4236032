"""Bring a backup back: everything is checked before anything is touched."""

import re
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from tempfile import mkdtemp

from django.db import connections
from django.db.migrations.loader import MigrationLoader

from outshop.errors import ArchiveError, InputError, StoreError
from outshop.records import store
from outshop.records.upgrade import bring_up_to_date, database_file

from .backup import DATABASE, KIND, VERSION
from .zipped import ZipReader, read_zip

MEDIA_NAME = re.compile(r"media/([0-9a-f]{2})/(\1[0-9a-f]{62})")
SPARE = 50_000_000  # bytes that stay free on the disk


def restore(path: Path, *, replace: bool = False) -> int:
    """Bring back a backup and give how many files came with it.

    A collection that is in the folder is only replaced when ``replace`` says so, and is
    then moved aside, not deleted. Call it while no server runs.

    Raises
    ------
    ArchiveError
        The backup is damaged or from a newer version.
    InputError
        There is a collection already.
    StoreError
        The disk is full, or the collection is on a database server.
    """
    database = database_file()
    if database is None:
        message = "the collection is on a database server: use `outshop import` with an export"
        raise StoreError(message)
    if _in_use(database) and not replace:
        message = (
            f"there is a collection in {store.home()} already: name an empty folder in "
            "OUTSHOP_HOME, or say --replace to move it aside"
        )
        raise InputError(message)
    with read_zip(path, kind=KIND, version=VERSION) as archive, _folder_beside() as folder:
        _refuse_newer(archive)
        _refuse_too_large(archive)
        files = _unpack(archive, folder)
        _check_database(folder / DATABASE, path)
        connections.close_all()
        _move_aside(database)
        _move_in(folder, database)
    bring_up_to_date()
    return files


def _in_use(database: Path) -> bool:
    return database.exists() or any(store.all_files())


@contextmanager
def _folder_beside() -> Iterator[Path]:
    folder = Path(mkdtemp(prefix="restoring-", dir=store.home()))
    try:
        yield folder
    except OSError as problem:
        raise store.as_store_error(problem) or problem from problem
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _refuse_newer(archive: ZipReader) -> None:
    known = {
        ".".join(key) for key in MigrationLoader(None, ignore_no_migrations=True).disk_migrations
    }
    if strange := sorted(set(archive.manifest.get("migrations", ())) - known):
        message = (
            f"{archive.path.name} comes from a newer Outshop (it knows {strange[-1]}): "
            "update Outshop first"
        )
        raise ArchiveError(message)


def _refuse_too_large(archive: ZipReader) -> None:
    needed, free = sum(archive.sizes.values()), shutil.disk_usage(store.home()).free
    if needed + SPARE > free:
        message = (
            f"the backup needs {needed / 1e6:.0f} MB and {free / 1e6:.0f} MB are free: "
            "make room and try again"
        )
        raise StoreError(message)


def _unpack(archive: ZipReader, folder: Path) -> int:
    files = 0
    for name in archive.sizes:
        match = MEDIA_NAME.fullmatch(name)
        if name != DATABASE and not match:
            message = f"{archive.path.name} holds {name!r}, which no backup holds"
            raise ArchiveError(message)
        target = folder / name
        target.parent.mkdir(parents=True, exist_ok=True)
        with target.open("wb") as file:
            archive.copy(name, file.write)
        store.flush_file(target)
        if match:
            target.chmod(0o400)
            files += 1
    if not (folder / DATABASE).is_file():
        message = f"{archive.path.name} holds no database: it is damaged"
        raise ArchiveError(message)
    return files


def _check_database(database: Path, path: Path) -> None:
    try:
        with closing(sqlite3.connect(database)) as opened:
            verdict = opened.execute("PRAGMA integrity_check").fetchone()[0]
            opened.execute("SELECT count(*) FROM records_piece").fetchone()
    except sqlite3.Error as problem:
        message = f"the database in {path.name} is damaged ({problem}): use another backup"
        raise ArchiveError(message) from problem
    if verdict != "ok":
        message = f"the database in {path.name} is damaged ({verdict}): use another backup"
        raise ArchiveError(message)


def _move_aside(database: Path) -> None:
    """Move what is there into a folder of its own; nothing is deleted."""
    if not _in_use(database):
        return
    aside = store.home() / f"replaced-{datetime.now(UTC):%Y%m%d-%H%M%S-%f}"
    aside.mkdir(mode=0o700)
    sides = [database.with_name(database.name + end) for end in ("", "-wal", "-shm")]
    for old in (*sides, store.home() / "media"):
        if old.exists():
            old.rename(aside / old.name)


def _move_in(folder: Path, database: Path) -> None:
    """Files first: a crash in between leaves files without rows, never rows without files."""
    media = folder / "media"
    target = store.home() / "media"
    if media.is_dir():
        if target.exists():
            shutil.rmtree(target)  # empty folders only: a collection was moved aside
        media.rename(target)
    (folder / DATABASE).rename(database)
    store.flush_folder(store.home())
