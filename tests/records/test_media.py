"""Keeping recordings and photos: file and row both, or neither."""

import io
from collections.abc import Callable
from pathlib import Path

import pytest
from django.db import DatabaseError

from outshop.errors import InputError, MediaError, StoreError
from outshop.records import services, store, thumbnails
from outshop.records.models import MediaFile, Photo, Piece, Recording

pytestmark = pytest.mark.django_db
Maker = Callable[..., io.BytesIO]


def test_a_recording_is_kept_byte_for_byte(piece: Piece, sound: Maker) -> None:
    recording = services.add_recording(piece=piece, source=sound(), name="run.wav", role="before")
    assert store.path_of(recording.media.sha256).read_bytes() == sound().getvalue()
    assert (recording.status, recording.media.media_type) == ("waiting", "audio/wav")


def test_the_same_file_twice_is_stored_once_and_recorded_twice(piece: Piece, sound: Maker) -> None:
    for name in ("a.wav", "b.wav"):
        services.add_recording(piece=piece, source=sound(), name=name)
    assert (MediaFile.objects.count(), Recording.objects.count()) == (1, 2)


def test_an_upload_sent_twice_makes_one_recording(piece: Piece, sound: Maker) -> None:
    made = [
        services.add_recording(piece=piece, source=sound(), name="a.wav", token="t") for _ in "12"
    ]
    assert made[0] == made[1]
    assert Recording.objects.count() == 1


@pytest.mark.parametrize(
    "name",
    ["../../outside.wav", "/etc/passwd", "a\\b.wav", "🚂.wav", "x" * 300 + ".wav", "", "a\x00.wav"],
)
def test_file_names_are_data_and_never_paths(
    piece: Piece, sound: Maker, home: Path, name: str
) -> None:
    recording = services.add_recording(piece=piece, source=sound(), name=name)
    assert recording.media.original_name == name.replace("\x00", "\ufffd")
    inside = {p for p in home.parent.rglob("*") if p.is_file()}
    assert inside == {store.path_of(recording.media.sha256)} | set(store.unfinished())


@pytest.mark.parametrize(
    ("data", "name", "sentence"),
    [
        (b"", "empty.wav", "empty"),
        (b"just a letter to the workshop", "letter.wav", "letter.wav is plain text"),
        (b"%PDF-1.7 and so on", "bill.wav", "bill.wav is application/pdf, but sound is wanted"),
        (bytes(range(1, 65)) * 2, "noise.wav", "noise.wav"),
    ],
    ids=["empty", "letter", "bill", "noise"],
)
def test_what_is_no_recording_is_refused_by_its_own_name(
    piece: Piece, data: bytes, name: str, sentence: str
) -> None:
    with pytest.raises(InputError, match=sentence):
        services.add_recording(piece=piece, source=io.BytesIO(data), name=name)
    assert not MediaFile.objects.exists()
    assert list(store.all_files()) == []
    assert store.unfinished() == []


def test_a_row_that_cannot_be_made_leaves_no_file(
    piece: Piece, sound: Maker, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_args: object, **_kwargs: object) -> None:
        message = "database is locked"
        raise DatabaseError(message)

    monkeypatch.setattr(Recording, "save", refuse)
    with pytest.raises(StoreError, match="in use by something else"):
        services.add_recording(piece=piece, source=sound(), name="a.wav")
    assert list(store.all_files()) == []
    assert store.unfinished() == []


def test_bad_words_beside_a_good_file_leave_no_file(piece: Piece, sound: Maker) -> None:
    with pytest.raises(InputError, match="role"):
        services.add_recording(piece=piece, source=sound(), name="a.wav", role="sideways")
    assert list(store.all_files()) == []
    assert not MediaFile.objects.exists()


def test_the_first_photo_becomes_the_cover_and_has_a_small_copy(piece: Piece, photo: Maker) -> None:
    first = services.add_photo(piece=piece, source=photo(), name="side.png", caption="left side")
    services.add_photo(piece=piece, source=photo("blue"), name="front.png")
    piece.refresh_from_db()
    assert (piece.cover, piece.version) == (first, 1)
    assert thumbnails.path_of(first.media.sha256).read_bytes().startswith(b"\xff\xd8")


def test_a_lost_small_copy_is_made_again(piece: Piece, photo: Maker) -> None:
    made = services.add_photo(piece=piece, source=photo(), name="side.png")
    thumbnails.path_of(made.media.sha256).unlink()
    assert thumbnails.path_of(made.media.sha256).is_file()


def test_a_picture_that_does_not_open_is_refused_by_its_own_name(
    piece: Piece, photo: Maker
) -> None:
    cut = io.BytesIO(photo().getvalue()[:60])
    with pytest.raises(MediaError, match=r"side\.png"):
        services.add_photo(piece=piece, source=cut, name="side.png")
    assert list(store.all_files()) == []
    assert not Photo.objects.exists()


def test_removing_the_cover_passes_it_on(piece: Piece, photo: Maker) -> None:
    first = services.add_photo(piece=piece, source=photo(), name="1.png")
    second = services.add_photo(piece=piece, source=photo("blue"), name="2.png")
    services.remove_photo(photo=first)
    piece.refresh_from_db()
    assert piece.cover == second


def test_a_file_in_use_stays_and_an_unused_one_goes(
    piece: Piece, sound: Maker, django_capture_on_commit_callbacks: object
) -> None:
    recording = services.add_recording(piece=piece, source=sound(), name="a.wav")
    media = recording.media
    assert not services.remove_unused(media=media)
    services.remove_recording(recording=recording)
    with django_capture_on_commit_callbacks(execute=True):
        assert services.remove_unused(media=media)
    assert list(store.all_files()) == []
