"""The media store: whole or not there, once, and never under a given name."""

import errno
import hashlib
import io
import os
from pathlib import Path

import pytest

from outshop.errors import InputError, MissingError, StoreError
from outshop.records import store


def keep(data: bytes) -> Path:
    incoming = store.receive(io.BytesIO(data))
    path = store.settle(incoming)
    store.confirm(incoming.sha256)
    store.discard(incoming)
    return path


def test_a_file_lies_under_its_own_checksum() -> None:
    path = keep(b"some sound")
    assert path.name == hashlib.sha256(b"some sound").hexdigest()
    assert path.read_bytes() == b"some sound"
    assert store.unfinished() == []


def test_the_same_bytes_are_stored_once() -> None:
    assert keep(b"same") == keep(b"same")
    assert len(list(store.all_files())) == 1


def test_a_damaged_original_is_healed_by_the_same_bytes_coming_again() -> None:
    path = keep(b"precious")
    path.chmod(0o600)
    path.write_bytes(b"prexious")
    assert keep(b"precious").read_bytes() == b"precious"


def test_originals_are_kept_read_only() -> None:
    assert keep(b"precious").stat().st_mode & 0o222 == 0


def test_an_empty_file_is_refused_and_leaves_nothing(home: Path) -> None:
    with pytest.raises(InputError, match="empty"):
        store.receive(io.BytesIO(b""))
    assert store.unfinished() == []


@pytest.mark.parametrize("text", ["../secret-key", "a" * 63, "A" * 64, "", "a" * 64 + "\n", "/etc"])
def test_only_a_checksum_becomes_a_path(text: str) -> None:
    with pytest.raises(MissingError):
        store.path_of(text)


class FullDisk(io.RawIOBase):
    """A source whose bytes no longer fit."""

    def __init__(self) -> None:
        self.left = 3

    def read(self, size: int = -1) -> bytes:
        self.left -= 1
        if self.left < 0:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        return b"x" * 1000


def test_a_full_disk_is_a_sentence_and_leaves_nothing_half_written() -> None:
    with pytest.raises(StoreError, match="disk is full"):
        store.receive(FullDisk())
    assert store.unfinished() == []
    assert list(store.all_files()) == []


def test_a_disk_that_fills_at_the_flush_leaves_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_handle: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    (store.home() / "incoming").mkdir()
    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(StoreError, match="disk is full"):
        store.receive(io.BytesIO(b"abc"))
    assert store.unfinished() == []


def test_the_bytes_are_flushed_before_the_file_gets_its_name(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    order = []
    real_fsync, real_replace = os.fsync, Path.replace
    monkeypatch.setattr(os, "fsync", lambda h: (order.append("flush"), real_fsync(h))[1])
    monkeypatch.setattr(Path, "replace", lambda s, t: (order.append("name"), real_replace(s, t))[1])
    keep(b"abc")
    assert "flush" in order[: order.index("name")]
    assert order[-1] == "flush"  # the folder, after the name


def test_recovery_removes_what_a_crash_left_and_spares_what_has_a_row() -> None:
    """A mark without a row: the upload was never acknowledged. With a row it was."""
    kept = keep(b"with a row")
    cut = store.settle(store.receive(io.BytesIO(b"no row yet")))
    store.settle(store.receive(io.BytesIO(b"with a row")))  # the same again, cut before confirm
    (store.home() / "incoming" / "tmpabc.part").write_bytes(b"half")
    removed = store.recover({kept.name}.__contains__)
    assert removed == 3  # the second copy and the half file on their way in, the one without a row
    assert kept.read_bytes() == b"with a row"
    assert not cut.exists()
    assert store.unfinished() == []


def test_a_file_that_is_gone_is_a_sentence() -> None:
    with pytest.raises(StoreError, match="outshop check"):
        store.open_read(store.path_of("a" * 64))


def test_part_of_a_file_ends_where_it_should() -> None:
    part = store.Part(io.BytesIO(b"0123456789"), 4)
    assert part.read() == b"0123"
