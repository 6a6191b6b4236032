"""A backup: the database as it is at one moment, and every file that it knows."""

import sqlite3
import tempfile
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from django.db import connection
from django.db.migrations.recorder import MigrationRecorder

from outshop.errors import StoreError
from outshop.records import store
from outshop.records.upgrade import copy_database, database_file

from .zipped import ZipWriter, refuse_existing

KIND = "outshop-backup"
VERSION = 1
DATABASE = "outshop.sqlite3"


@dataclass(frozen=True, slots=True)
class BackedUp:
    """How many files went in, how large the backup is in bytes, and what was amiss."""

    files: int
    size: int
    warnings: tuple[str, ...]


def back_up(path: Path, *, replace: bool = False) -> BackedUp:
    """Write a backup to ``path``; pages may be in use meanwhile.

    Raises
    ------
    InputError
        The file is there already, or cannot be written.
    StoreError
        The disk is full, or the collection is on a database server.
    """
    refuse_existing(path, replace=replace)
    source = database_file()
    if source is None:
        message = (
            "the collection is on a database server: back that up with its own tools, "
            "or use `outshop export`"
        )
        raise StoreError(message)
    with tempfile.TemporaryDirectory(dir=store.home()) as folder:
        copy = Path(folder) / DATABASE
        copy_database(source, copy)
        with ZipWriter(path, KIND, VERSION) as archive:
            archive.facts["migrations"] = applied_migrations()
            with copy.open("rb") as file:
                archive.add_file(DATABASE, file, packed=True)
            warnings = _write_media(archive, copy)
            files = len(archive.files) - 1
    return BackedUp(files, path.stat().st_size, tuple(warnings))


def applied_migrations() -> list[str]:
    """Give the changes of form that the database has seen."""
    return sorted(".".join(key) for key in MigrationRecorder(connection).applied_migrations())


def known_checksums(database: Path) -> list[str]:
    """Give the checksums on record in a copy of the database."""
    with closing(sqlite3.connect(database)) as opened:
        rows = opened.execute("SELECT sha256 FROM records_mediafile ORDER BY sha256")
        return [str(row[0]) for row in rows]


def _write_media(archive: ZipWriter, copy: Path) -> list[str]:
    warnings = []
    for sha256 in known_checksums(copy):
        kept = store.path_of(sha256)
        if not kept.is_file():
            warnings.append(f"the kept file {sha256[:12]} is gone and not in the backup")
            continue
        with kept.open("rb") as file:
            found = archive.add_file(f"media/{sha256[:2]}/{sha256}", file)
        if found != sha256:
            warnings.append(f"the kept file {sha256[:12]} is not what it was; it went in as it is")
    return warnings
