"""Damaged, foreign and newer archives: one sentence, and the collection as it was."""

import io
import json
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from outshop.errors import ArchiveError, InputError, StoreError
from outshop.records import services, store
from outshop.records.archive.exporting import export_archive
from outshop.records.archive.importing import import_archive
from outshop.records.models import MediaFile, Piece
from outshop.records.services.saving import remove

from .conftest import sound_of

pytestmark = pytest.mark.django_db
Contents = dict[str, bytes]


@pytest.fixture(name="archive")
def _archive(home: Path) -> Path:
    piece = services.add_piece(name="travels")
    services.add_recording(piece=piece, source=sound_of(), name="a.wav")
    path = home / "archive.zip"
    export_archive(path)
    remove(piece)
    MediaFile.objects.all().delete()
    for file in [*store.all_files(), *store.unfinished()]:
        file.unlink()
    return path


def unpacked(path: Path) -> Contents:
    with zipfile.ZipFile(path) as opened:
        return {name: opened.read(name) for name in opened.namelist()}


def packed(path: Path, contents: Contents) -> None:
    with zipfile.ZipFile(path, "w") as target:
        for name, data in contents.items():
            target.writestr(name, data)


def with_manifest(change: Callable[[dict[str, Any]], object]) -> Callable[[Contents], object]:
    def edit(contents: Contents) -> None:
        manifest = json.loads(contents["manifest.json"])
        change(manifest)
        contents["manifest.json"] = json.dumps(manifest).encode()

    return edit


def with_rows(name: str, change: Callable[[list[Any]], object]) -> Callable[[Contents], object]:
    """Change rows and make the manifest fit again, as a careful hand would."""
    import hashlib

    def edit(contents: Contents) -> None:
        rows = json.loads(contents[name])
        change(rows)
        contents[name] = json.dumps(rows).encode()
        manifest = json.loads(contents["manifest.json"])
        for file in manifest["files"]:
            if file["name"] == name:
                file["size"] = len(contents[name])
                file["sha256"] = hashlib.sha256(contents[name]).hexdigest()
        contents["manifest.json"] = json.dumps(manifest).encode()

    return edit


def first_media(contents: Contents) -> str:
    return next(name for name in contents if name.startswith("media/"))


def flip_media(contents: Contents) -> None:
    name = first_media(contents)
    contents[name] = contents[name][:-1] + bytes([contents[name][-1] ^ 1])


DAMAGES: dict[str, tuple[Callable[[Contents], object], str]] = {
    "newer": (with_manifest(lambda m: m.update(format_version=2)), "newer Outshop.*update"),
    "another kind": (with_manifest(lambda m: m.update(format="outshop-backup")), "outshop-backup"),
    "no manifest": (lambda c: c.pop("manifest.json"), "holds no manifest"),
    "manifest no JSON": (lambda c: c.update({"manifest.json": b"\xff{"}), "no JSON"),
    "manifest without files": (with_manifest(lambda m: m.pop("files")), "damaged"),
    "manifest a list": (lambda c: c.update({"manifest.json": b"[]"}), "damaged"),
    "a file lost": (lambda c: c.pop(first_media(c)), "missing or cut short"),
    "one bit in a sound": (flip_media, "damaged at media/"),
    "records no list": (with_rows("records/piece.json", lambda rows: rows.append(3)), "damaged"),
    "an unknown column": (
        with_rows("records/piece.json", lambda rows: rows[0].update(colour="red")),
        "unknown column colour",
    ),
    "an impossible state": (
        with_rows("records/piece.json", lambda rows: rows[0].update(state="flying")),
        "flying",
    ),
    "no date": (
        with_rows("records/recording.json", lambda rows: rows[0].update(taken_at="soon")),
        "soon",
    ),
    "of a piece that is not there": (
        with_rows(
            "records/recording.json",
            lambda rows: rows[0].update(piece="00000000-0000-0000-0000-000000000000"),
        ),
        "which is not there",
    ),
    "the same record twice": (
        with_rows("records/mediafile.json", lambda rows: rows.append(rows[0] | {"uid": "7" * 32})),
        "contradicts another",
    ),
}


@pytest.mark.parametrize("damage", DAMAGES)
def test_damage_is_a_sentence_and_nothing_is_taken_in(archive: Path, damage: str) -> None:
    edit, sentence = DAMAGES[damage]
    contents = unpacked(archive)
    edit(contents)
    packed(archive, contents)
    with pytest.raises(ArchiveError, match=sentence):
        import_archive(archive)
    assert not Piece.objects.exists()
    assert list(store.all_files()) == []
    assert store.unfinished() == []


@pytest.mark.parametrize("share", [0.0, 0.3, 0.7, 0.99])
def test_a_cut_archive_is_a_sentence(archive: Path, share: float) -> None:
    data = archive.read_bytes()
    archive.write_bytes(data[: int(len(data) * share)])
    with pytest.raises(ArchiveError, match="cut short"):
        import_archive(archive)


def test_a_file_that_is_no_archive_is_a_sentence(home: Path) -> None:
    (home / "x.zip").write_bytes(b"hello")
    with pytest.raises(ArchiveError, match="cut short"):
        import_archive(home / "x.zip")


def test_names_in_an_archive_never_lead_outside(archive: Path, home: Path) -> None:
    contents = unpacked(archive)
    contents["../../evil.txt"] = b"boo"
    with_manifest(
        lambda m: m["files"].append({"name": "../../evil.txt", "size": 3, "sha256": "0" * 64})
    )(contents)
    packed(archive, contents)
    import_archive(archive)  # what no record asks for is not even read
    assert not (home.parent.parent / "evil.txt").exists()
    assert Piece.objects.get().name == "travels"


def test_an_existing_file_is_not_overwritten_unasked(home: Path) -> None:
    (home / "thesis.zip").write_bytes(b"years of work")
    with pytest.raises(InputError, match="there already"):
        export_archive(home / "thesis.zip")
    assert (home / "thesis.zip").read_bytes() == b"years of work"


def test_a_full_disk_leaves_no_half_archive(
    home: Path, piece: Piece, monkeypatch: pytest.MonkeyPatch
) -> None:
    import errno

    def full(*_args: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    services.add_recording(piece=piece, source=io.BytesIO(sound_of().getvalue()), name="a.wav")
    monkeypatch.setattr(zipfile.ZipFile, "writestr", full)
    with pytest.raises(StoreError, match="disk is full"):
        export_archive(home / "a.zip")
    assert [p.name for p in home.glob("a.zip*")] == []
