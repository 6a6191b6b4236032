"""Upgrades: a copy before, a newer database refused, copies whole while in use."""

import sqlite3
from pathlib import Path

import pytest
from django.db.migrations.recorder import MigrationRecorder

from outshop.errors import StoreError
from outshop.records import upgrade


@pytest.mark.django_db
def test_a_database_of_a_newer_version_is_refused() -> None:
    MigrationRecorder.Migration.objects.create(app="records", name="0999_from_the_future")
    with pytest.raises(StoreError, match=r"newer Outshop.*0999_from_the_future"):
        upgrade.bring_up_to_date()


@pytest.mark.django_db
def test_nothing_to_do_makes_no_copy(home: Path) -> None:
    assert upgrade.bring_up_to_date() is None
    assert not (home / "backups").exists()


def test_a_copy_holds_all_that_is_committed_and_nothing_else(tmp_path: Path) -> None:
    source = tmp_path / "a.sqlite3"
    with sqlite3.connect(source) as writer:
        writer.execute("PRAGMA journal_mode=WAL")
        writer.execute("CREATE TABLE t (x)")
        writer.execute("INSERT INTO t VALUES (1)")
        writer.commit()
        writer.execute("INSERT INTO t VALUES (2)")  # not committed
        upgrade.copy_database(source, tmp_path / "b.sqlite3")
        writer.rollback()
    writer.close()
    copy = sqlite3.connect(tmp_path / "b.sqlite3")
    assert copy.execute("SELECT x FROM t").fetchall() == [(1,)]
    assert copy.execute("PRAGMA journal_mode").fetchone() == ("delete",)
    copy.close()


def test_a_database_that_is_none_cannot_be_copied(tmp_path: Path) -> None:
    (tmp_path / "a.sqlite3").write_bytes(b"not a database" * 100)
    with pytest.raises(StoreError, match="damaged"):
        upgrade.copy_database(tmp_path / "a.sqlite3", tmp_path / "b.sqlite3")
    assert not (tmp_path / "b.sqlite3").exists()
