"""Everything as one open archive: JSON for each kind of record, and the kept files."""

import io
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.db import transaction

from outshop.errors import InputError
from outshop.records import store
from outshop.records.models import MediaFile
from outshop.records.models.base import Record

from .rows import as_json, file_name, record_models
from .zipped import ZipWriter, refuse_existing

KIND = "outshop-archive"
VERSION = 1  # rises when a reader of the older form would misread the newer
SUFFIXES = {
    "audio/wav": ".wav",
    "audio/mp4": ".m4a",
    "audio/mpeg": ".mp3",
    "audio/ogg": ".ogg",
    "audio/flac": ".flac",
    "video/mp4": ".mp4",
    "video/quicktime": ".mov",
    "video/webm": ".webm",
    "text/csv": ".csv",
    "image/jpeg": ".jpg",
    "image/png": ".png",
    "image/webp": ".webp",
    "image/heic": ".heic",
    "application/pdf": ".pdf",
}


def media_name(media: MediaFile) -> str:
    """Give a kept file's name in the archive."""
    return f"media/{media.sha256}{SUFFIXES.get(media.media_type, '')}"


def export_archive(path: Path, *, replace: bool = False) -> list[str]:
    """Write all records and files to ``path``; give a sentence for each file that is missing.

    Raises
    ------
    InputError
        The file is there already, or cannot be written.
    StoreError
        The disk is full.
    """
    refuse_existing(path, replace=replace)
    with ZipWriter(path, KIND, VERSION) as archive:
        archive.facts["counts"] = _write_records(archive)
        return _write_media(archive)


@transaction.atomic
def _write_records(archive: ZipWriter) -> dict[str, int]:
    """Write all records as they are at one moment."""
    uids: dict[type[Record], dict[int, str]] = {}
    for model in record_models():
        pairs = model.objects.values_list("pk", "uid")  # type: ignore[attr-defined]
        uids[model] = {pk: str(uid) for pk, uid in pairs}
    counts = {}
    for model in record_models():
        name = file_name(model)
        archive.add_file(name, _JsonRows(_rows(model, uids)), packed=True)  # type: ignore[arg-type]
        counts[name] = len(uids[model])
    return counts


def _write_media(archive: ZipWriter) -> list[str]:
    """Write the kept files; they never change, so pages may go on meanwhile."""
    missing = []
    for media in list(MediaFile.objects.order_by("sha256")):
        kept = store.path_of(media.sha256)
        if kept.is_file():
            with kept.open("rb") as file:
                archive.add_file(media_name(media), file)
        else:
            missing.append(f"the kept file {media} is gone and not in the archive")
    return missing


def _rows(
    model: type[Record], uids: dict[type[Record], dict[int, str]]
) -> Iterator[dict[str, Any]]:
    for record in model.objects.order_by("pk").iterator(1000):  # type: ignore[attr-defined]
        yield as_json(record, uids)


class _JsonRows(io.RawIOBase):
    """A JSON list as a file, made row by row: a large history needs no large memory."""

    def __init__(self, rows: Iterator[dict[str, Any]]) -> None:
        self._pieces = _pieces(rows)

    def read(self, size: int = -1) -> bytes:  # noqa: ARG002 - any size is allowed
        return next(self._pieces, b"")


def _pieces(rows: Iterator[dict[str, Any]]) -> Iterator[bytes]:
    begin = "[\n"
    for row in rows:
        yield (begin + json.dumps(row, ensure_ascii=False)).encode()
        begin = ",\n"
    yield (begin if begin.startswith("[") else "").encode() + b"\n]\n"


def write_text(path: Path, text: str) -> None:
    """Write a text file whole or not at all.

    Raises
    ------
    InputError, StoreError
        It cannot be written, or the disk is full.
    """
    part = path.with_name(path.name + ".part")
    try:
        part.write_text(text, encoding="utf-8", newline="")
        store.flush_file(part)
        part.replace(path)
    except OSError as problem:
        part.unlink(missing_ok=True)
        message = f"{path} cannot be written: {problem.strerror}"
        raise store.as_store_error(problem) or InputError(message) from problem
