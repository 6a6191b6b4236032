"""Backup and restore, export and import, check: on real folders, by the real commands."""

import json
import os
import shutil
import sqlite3
import subprocess
import sys
import zipfile
from pathlib import Path
from typing import Any

import pytest

from .running import begun, noise, outshop

FILL = """
import io, sys
from outshop.site import start
with start.collection():
    from outshop.records import services
    piece = services.add_piece(name="Ähre", arrangement="1'D1'", mass_g=212.5, notes="=1+1")
    for n in range(3):
        data = open(sys.argv[1 + n], "rb")
        recording = services.add_recording(piece=piece, source=data, name=f"{n}.wav")
        level = {"value": 50.0, "low": 49.0, "high": 51.0, "confidence": 0.95, "unit": "dB(A)"}
        services.keep_result(recording=recording, result={"level": level}, kind="sound")
    services.issue_release(piece=piece, snapshot={"a": [1, None]}, pdf=b"%PDF-1.7 x")
    job = services.add_job(piece=piece, title="job", steps=[{"title": "a"}, {"title": "b"}])
    services.tick_step(step=job.steps.first())
"""


@pytest.fixture(name="full", scope="module")
def _full(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A collection with something of most kinds; tests only read it."""
    home = begun(tmp_path_factory.mktemp("full"))
    sounds = []
    for seed in range(3):
        sounds.append(str(home / f"{seed}.wav"))
        Path(sounds[-1]).write_bytes(noise(0.5, seed))
    subprocess.run(
        [sys.executable, "-c", FILL, *sounds],
        env=os.environ | {"OUTSHOP_HOME": str(home)},
        check=True,
    )
    return home


@pytest.fixture(name="backup", scope="module")
def _backup(full: Path) -> Path:
    file = full / "backup.zip"
    outshop(full, "backup", str(file))
    return file


def rows(home: Path) -> dict[str, list[Any]]:
    """Every row of every table of records, read by sqlite3 alone."""
    link = sqlite3.connect(home / "outshop.sqlite3")
    names = [
        name
        for (name,) in link.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
        if name.startswith(("records_", "django_migrations"))
    ]
    found = {name: link.execute(f"SELECT * FROM {name} ORDER BY 1").fetchall() for name in names}
    link.close()
    return found


def files(home: Path) -> dict[str, bytes]:
    return {p.name: p.read_bytes() for p in (home / "media").rglob("*") if p.is_file()}


def test_a_backup_restored_into_an_empty_home_is_the_same_collection(
    full: Path, backup: Path, tmp_path: Path
) -> None:
    outshop(tmp_path, "restore", str(backup))
    assert rows(tmp_path) == rows(full)
    assert len(rows(full)["records_recording"]) == 3
    assert files(tmp_path) == files(full)
    assert len(files(full)) == 4
    outshop(tmp_path, "check")


def test_a_backup_needs_nothing_but_zip_json_and_sqlite_to_be_read(
    backup: Path, tmp_path: Path
) -> None:
    with zipfile.ZipFile(backup) as opened:
        assert opened.testzip() is None
        manifest = json.loads(opened.read("manifest.json"))
        opened.extract("outshop.sqlite3", tmp_path)
    assert (manifest["format"], manifest["format_version"]) == ("outshop-backup", 1)
    assert [
        row[0]
        for row in sqlite3.connect(tmp_path / "outshop.sqlite3").execute(
            "SELECT name FROM records_piece"
        )
    ] == ["Ähre"]


def test_a_collection_is_only_replaced_when_asked_and_then_moved_aside(
    full: Path, backup: Path, tmp_path: Path
) -> None:
    begun(tmp_path)
    done = outshop(tmp_path, "restore", str(backup), code=1)
    assert "--replace" in done.stderr
    outshop(tmp_path, "restore", str(backup), "--replace")
    assert rows(tmp_path) == rows(full)
    aside = next(tmp_path.glob("replaced-*"))
    assert (aside / "outshop.sqlite3").is_file()


def damaged(backup: Path, to: Path, how: str) -> Path:
    data = bytearray(backup.read_bytes())
    if how == "cut":
        data = data[: len(data) // 2]
    elif how == "one bit in a file":
        with zipfile.ZipFile(backup) as opened:
            info = next(i for i in opened.infolist() if i.filename.startswith("media/"))
            data[info.header_offset + 400] ^= 1
    to.write_bytes(bytes(data))
    return to


def rewritten(backup: Path, to: Path, change: dict[str, Any]) -> Path:
    with zipfile.ZipFile(backup) as old, zipfile.ZipFile(to, "w") as new:
        for name in old.namelist():
            data = old.read(name)
            if name == "manifest.json":
                data = json.dumps(json.loads(data) | change).encode()
            new.writestr(name, data)
    return to


@pytest.mark.parametrize("how", ["cut", "one bit in a file"])
def test_a_damaged_backup_is_a_sentence_and_touches_nothing(
    backup: Path, tmp_path: Path, how: str
) -> None:
    home = tmp_path / "home"
    bad = damaged(backup, tmp_path / "bad.zip", how)
    done = outshop(home, "restore", str(bad), code=1)
    assert "bad.zip" in done.stderr
    assert sorted(p.name for p in home.iterdir()) == ["secret-key", "server.lock"]


@pytest.mark.parametrize(
    "change", [{"format_version": 99}, {"migrations": ["records.0999_from_the_future"]}]
)
def test_a_backup_of_a_newer_version_is_refused(
    backup: Path, tmp_path: Path, change: dict[str, Any]
) -> None:
    newer = rewritten(backup, tmp_path / "newer.zip", change)
    done = outshop(tmp_path / "home", "restore", str(newer), code=1)
    assert "newer Outshop" in done.stderr
    assert "update" in done.stderr


def test_an_export_is_no_backup_and_says_so(full: Path, tmp_path: Path) -> None:
    outshop(full, "export", str(tmp_path / "e.zip"))
    done = outshop(tmp_path / "home", "restore", str(tmp_path / "e.zip"), code=1)
    assert "outshop-archive" in done.stderr


def test_export_and_import_carry_the_collection_to_an_empty_home(
    full: Path, tmp_path: Path
) -> None:
    outshop(full, "export", str(tmp_path / "e.zip"))
    home = begun(tmp_path / "home")
    done = outshop(home, "import", str(tmp_path / "e.zip"))
    assert "0 were there already" in done.stdout
    assert files(home) == files(full)
    outshop(home, "check")
    outshop(home, "export", str(tmp_path / "again.zip"))
    with zipfile.ZipFile(tmp_path / "e.zip") as a, zipfile.ZipFile(tmp_path / "again.zip") as b:
        for name in a.namelist():
            if name.startswith("records/"):
                assert json.loads(a.read(name)) == json.loads(b.read(name)), name


def test_the_csv_goes_out_guarded_and_comes_back_bare(full: Path, tmp_path: Path) -> None:
    table = tmp_path / "t.csv"
    outshop(full, "export", "--csv", str(table))
    assert "'=1+1" in table.read_text(encoding="utf-8")
    assert "there already" in outshop(full, "export", "--csv", str(table), code=1).stderr
    home = begun(tmp_path / "home")
    outshop(home, "import", str(table))
    piece = rows(home)["records_piece"][0]
    assert "=1+1" in piece
    assert "Ähre" in piece


def test_a_bad_table_is_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "t.csv").write_text("name,state\na,flying\n")
    done = outshop(begun(tmp_path / "home"), "import", str(tmp_path / "t.csv"), code=1)
    assert "line 2" in done.stderr


def test_check_tells_what_is_wrong_and_exits_with_1(full: Path, tmp_path: Path) -> None:
    home = tmp_path / "home"
    shutil.copytree(full, home)
    first, second, *_ = sorted(p for p in (home / "media").rglob("*") if p.is_file())
    first.unlink()
    second.chmod(0o600)
    second.write_bytes(second.read_bytes()[::-1])
    (home / "media" / "ab").mkdir(exist_ok=True)
    (home / "media" / "ab" / ("ab" * 32)).write_bytes(b"whose?")
    done = outshop(home, "check", "--json", code=1)
    found = sorted(p["fault"] for p in json.loads(done.stdout)["problems"])
    assert found == ["changed", "missing", "orphaned"]


@pytest.mark.parametrize("command", ["check", "backup", "export"])
def test_a_folder_without_collection_is_a_sentence(tmp_path: Path, command: str) -> None:
    words = [command] if command == "check" else [command, str(tmp_path / "x.zip")]
    done = outshop(tmp_path / "home", *words, code=1)
    assert "there is no collection" in done.stderr


def test_an_upgrade_makes_a_copy_first(full: Path, tmp_path: Path) -> None:
    """A database that lacks one of our changes of form is copied before it is brought up."""
    home = tmp_path / "home"
    shutil.copytree(full, home)
    before = rows(home)["records_piece"]
    link = sqlite3.connect(home / "outshop.sqlite3")
    link.execute("DELETE FROM django_migrations WHERE app = 'django_tasks_database'")
    link.execute("DELETE FROM django_migrations WHERE app = 'django_tasks_db'")
    for (name,) in link.execute(
        "SELECT name FROM sqlite_master WHERE type = 'table' AND name LIKE 'django_tasks%'"
    ).fetchall():
        link.execute(f"DROP TABLE {name}")
    link.commit()
    link.close()
    outshop(home, "check")
    copy = next((home / "backups").glob("before-upgrade-*.sqlite3"))
    kept = sqlite3.connect(copy)
    assert kept.execute("SELECT * FROM records_piece").fetchall() == before
    kept.close()
