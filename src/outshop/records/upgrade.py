"""Bring the database to the form that this version needs, with a copy of it made first."""

import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from django.conf import settings
from django.core.management import call_command
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor

from outshop.errors import StoreError
from outshop.records import store

COPIES_KEPT = 10  # copies made before upgrades; the oldest go first


def bring_up_to_date() -> Path | None:
    """Apply what is missing; give the copy that was made before, if there was anything to copy.

    Raises
    ------
    StoreError
        The database is from a newer version, is damaged, or cannot be upgraded.
    """
    try:
        executor = MigrationExecutor(connection)
        applied = set(executor.loader.applied_migrations)
        strange = sorted(key for key in applied if key not in executor.loader.disk_migrations)
        if strange:
            message = (
                f"this collection was used by a newer Outshop ({'.'.join(strange[-1])}): "
                "update Outshop first"
            )
            raise StoreError(message)
        if not executor.migration_plan(executor.loader.graph.leaf_nodes()):
            return None
        copy = _copy_before() if applied else None
    except DatabaseError as problem:
        raise store.as_store_error(problem) or problem from problem
    try:
        call_command("migrate", verbosity=0, interactive=False)
    except DatabaseError as problem:
        where = f"; the collection as it was lies in {copy}" if copy else ""
        message = f"the collection could not be brought to this version ({problem}){where}"
        raise StoreError(message) from problem
    return copy


def database_file() -> Path | None:
    """Give the SQLite file, or None when another database is used."""
    database = settings.DATABASES["default"]
    return Path(database["NAME"]) if "sqlite3" in database["ENGINE"] else None


def copy_database(source: Path, target: Path) -> None:
    """Copy a SQLite database as it is at one moment, also while it is in use.

    Raises
    ------
    StoreError
        It is locked, damaged or cannot be written.
    """
    try:
        with (
            closing(sqlite3.connect(f"{source.absolute().as_uri()}?mode=ro", uri=True)) as old,
            closing(sqlite3.connect(target)) as new,
        ):
            old.backup(new)
            new.execute("PRAGMA journal_mode=DELETE")  # one file, without a log beside it
        store.flush_file(target)
    except (sqlite3.Error, OSError) as problem:
        target.unlink(missing_ok=True)
        message = f"the database {source} cannot be copied: {problem}"
        raise store.as_store_error(problem) or StoreError(message) from problem


def _copy_before() -> Path | None:
    source = database_file()
    if source is None or not source.is_file():
        return None
    folder = store.home() / "backups"
    folder.mkdir(mode=0o700, exist_ok=True)
    target = folder / f"before-upgrade-{datetime.now(UTC):%Y%m%d-%H%M%S-%f}.sqlite3"
    copy_database(source, target)
    for old in sorted(folder.glob("before-upgrade-*.sqlite3"))[:-COPIES_KEPT]:
        old.unlink()
    return target
