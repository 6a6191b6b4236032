"""A disk that is really full: a small file system in memory, filled to its last block."""

import hashlib
import json
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from .running import Server, begun, free_port, noise, outshop

ROOM = "size=6m"


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    if not sys.platform.startswith("linux") or shutil.which("mount") is None:
        pytest.skip("a small file system can be made on Linux only")
    at = tmp_path / "disk"
    at.mkdir()
    made = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", ROOM, "tmpfs", str(at)], capture_output=True, text=True
    )
    if made.returncode:
        pytest.skip("mounting a file system is not allowed here")
    yield at
    subprocess.run(["umount", "-l", str(at)], check=True)


def fill(disk: Path) -> Path:
    """Take what room is left."""
    filler = disk / "filler"
    with filler.open("wb", buffering=0) as out:
        try:
            while True:
                out.write(b"0" * 4096)
        except OSError:
            return filler


def test_on_a_full_disk_uploads_forms_and_backups_are_refused_and_nothing_kept_is_lost(
    small_disk: Path,
) -> None:
    home = begun(small_disk / "home")
    running = Server(home, "--port", str(free_port()))
    form = {"name": "Tank", "kind": "steam", "state": "arrived"}
    kept = []
    try:
        _, place, _ = running.send_form("/piece/new/", form)
        for number in range(20):
            data = noise(40.0, number)
            status, _, page = running.send_file(f"{place}record/", "a.wav", data)
            if status == 503:
                break
            kept.append(hashlib.sha256(data).hexdigest())
        assert status == 503
        assert "The disk is full: nothing was changed; make room and try again." in page

        filler = fill(small_disk)
        status, _, page = running.send_form(
            "/piece/new/", form | {"name": "Second", "notes": "so it was found. " * 600}
        )
        assert (status, "The disk is full" in page) == (503, True)
        assert running.ask(place)[0] == 200  # looking goes on
        refused = outshop(home, "backup", str(small_disk / "b.zip"), code=1)
        assert "the disk is full" in refused.stderr

        filler.unlink()
        assert running.send_form("/piece/new/", form | {"name": "Third"})[0] == 302
    finally:
        running.stop()
    assert len(kept) >= 3
    assert all(any(home.rglob(f"{name}*")) for name in kept)
    assert json.loads(outshop(home, "check", "--json").stdout)["problems"] == []
