"""Keeping files: into the store first, then their row, both or neither."""

from collections.abc import Callable
from pathlib import Path
from typing import BinaryIO, TypeVar

from django.db import transaction

from outshop.errors import MediaError, MissingError
from outshop.media import picture
from outshop.media.sniff import Sniffed, short_name, sniff
from outshop.records import store, thumbnails
from outshop.records.models import ChangeEntry, Finding, JobStep, MediaFile, Photo, Piece
from outshop.records.models.base import Record

from .saving import add, note, once, remove, tidy_text, use_case

M = TypeVar("M", bound=Record)
LONGEST_NAME = 1000  # characters of a file's name that are kept


def keep_and(
    *,
    source: BinaryIO,
    name: str,
    kinds: tuple[MediaFile.Kind, ...],
    make: Callable[[MediaFile], M],
    look: Callable[[Path], object] = sniff,
) -> M:
    """Keep a file and make the record that needs it, in one transaction.

    ``look`` sees the file before it is kept and raises MediaError when it is not fit.

    Raises
    ------
    MediaError
        The file is of none of ``kinds``.
    InputError
        It is empty, or the record cannot be made.
    StoreError
        The store cannot be written.
    """
    incoming = store.receive(source)
    try:
        found = sniff(incoming.path)
        _refuse_others(found, name, kinds)
        look(incoming.path)
        return _keep(incoming, name, MediaFile.Kind(found.kind), found.media_type, make)
    except MediaError as problem:
        # the sentence shall name the file as the person knows it
        sentence = str(problem).replace(short_name(incoming.path), _shown(name))
        raise type(problem)(sentence) from problem
    finally:
        store.discard(incoming)


def keep_table(*, source: BinaryIO, name: str, make: Callable[[MediaFile], M]) -> M:
    """Keep a table of readings as it came and make the record that rests on it.

    Raises
    ------
    InputError
        The record cannot be made.
    StoreError
        The store cannot be written.
    """
    incoming = store.receive(source)
    try:
        return _keep(incoming, name, MediaFile.Kind.DOCUMENT, "text/csv", make)
    finally:
        store.discard(incoming)


@use_case
def _keep(
    incoming: store.Incoming,
    name: str,
    kind: MediaFile.Kind,
    media_type: str,
    make: Callable[[MediaFile], M],
) -> M:
    media, _ = MediaFile.objects.get_or_create(
        sha256=incoming.sha256,
        defaults={
            "size": incoming.size,
            "kind": kind,
            "media_type": media_type,
            "original_name": tidy_text(name)[:LONGEST_NAME],
        },
    )
    record = make(media)
    store.settle(incoming)
    transaction.on_commit(lambda: store.confirm(incoming.sha256))
    return record


def add_photo(
    *,
    piece: Piece,
    source: BinaryIO,
    name: str,
    caption: str = "",
    finding: Finding | None = None,
    step: JobStep | None = None,
    token: str = "",
) -> Photo:
    """Keep a picture of a piece; the first becomes its cover."""

    def make(media: MediaFile) -> Photo:
        photo = once(
            token=token,
            model=Photo,
            make=lambda: add(
                Photo(
                    piece=piece,
                    media=media,
                    caption=caption,
                    finding=finding,
                    step=step,
                    position=piece.photos.count(),
                )
            ),
        )
        # no new version: an edit that is open in a tab does not touch the cover
        Piece.objects.filter(pk=piece.pk, cover=None).update(cover=photo)
        return photo

    small: list[picture.EncodedPicture] = []

    def look(path: Path) -> None:
        small.append(picture.thumbnail(path, thumbnails.SIDE))

    photo = keep_and(
        source=source, name=name, kinds=(MediaFile.Kind.PICTURE,), make=make, look=look
    )
    thumbnails.write(photo.media.sha256, small[0].data)
    return photo


@use_case
def caption_photo(*, photo: Photo, caption: str) -> Photo:
    """Say what a photo shows."""
    old, photo.caption = photo.caption, tidy_text(caption)
    if photo.caption != old:
        photo.save(update_fields=["caption"])
        said = [{"field": "caption", "old": old, "new": photo.caption}]
        note(photo, ChangeEntry.Action.CHANGED, said)
    return photo


@use_case
def choose_cover(*, photo: Photo) -> Piece:
    """Show this photo wherever the piece is listed."""
    Piece.objects.filter(pk=photo.piece.pk).update(cover=photo)
    photo.piece.refresh_from_db()
    return photo.piece


@use_case
def remove_photo(*, photo: Photo) -> None:
    """Take a photo away; the next one becomes the cover."""
    piece = photo.piece
    remove(photo)
    Piece.objects.filter(pk=piece.pk, cover=None).update(cover=piece.photos.first())


@use_case
def remove_unused(*, media: MediaFile) -> bool:
    """Remove a file that no record uses any more; tell whether it went."""
    users = (media.photos, media.recordings, media.releases, media.lots, media.measurements)
    if any(user.exists() for user in users):
        return False
    sha256 = media.sha256
    media.delete()
    transaction.on_commit(lambda: store.path_of(sha256).unlink(missing_ok=True))
    return True


def find_media(*, sha256: str) -> MediaFile:
    """Give the row of a kept file."""
    media = MediaFile.objects.filter(sha256=sha256).first()
    if media is None:
        message = "there is no file under this number"
        raise MissingError(message)
    return media


def _shown(name: str) -> str:
    return short_name(Path(tidy_text(name).replace("/", "\N{FRACTION SLASH}") or "the file"))


def _refuse_others(found: Sniffed, name: str, kinds: tuple[MediaFile.Kind, ...]) -> None:
    if found.kind in kinds:
        return
    if MediaFile.Kind.PICTURE in kinds:
        wanted = "a picture is wanted here: send a JPEG, PNG, WebP or HEIC file"
    else:
        wanted = "sound is wanted here: send wav, m4a, mp3, ogg or flac, or a clip as mp4 or mov"
    message = f"{_shown(name)} is {found.media_type}, but {wanted}"
    raise MediaError(message)
