"""Take an archive in: what is new is added, what is there already stays as it is."""

import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.db import DatabaseError, IntegrityError, transaction

from outshop.errors import ArchiveError
from outshop.records import store
from outshop.records.models import MediaFile
from outshop.records.models.base import Record

from .exporting import KIND, VERSION
from .rows import file_name, from_json, late_relations, record_models
from .zipped import ZipReader, read_zip

Keys = dict[type[Record], dict[str, int]]


@dataclass(frozen=True, slots=True)
class Imported:
    """How many records were added, how many were there already, and what is missing."""

    added: int
    known: int
    warnings: tuple[str, ...]


def import_archive(path: Path) -> Imported:
    """Add the records and files of an archive, all of them or none.

    Raises
    ------
    ArchiveError
        It is damaged, from a newer version, or its records do not fit together.
    StoreError
        The store cannot be written.
    """
    with read_zip(path, kind=KIND, version=VERSION) as archive:
        files = {Path(name).stem: name for name in archive.names("media/")}
        incoming = {}
        try:
            for sha256, name in files.items():
                incoming[sha256] = _receive(archive, name, sha256)
            result = _take_in(archive, incoming)
        except DatabaseError as problem:
            raise store.as_store_error(problem) or problem from problem
        finally:
            for file in incoming.values():
                store.discard(file)
    return result


@transaction.atomic
def _take_in(archive: ZipReader, incoming: Mapping[str, store.Incoming]) -> Imported:
    keys: Keys = {}
    added = known = 0
    late: list[tuple[Record, dict[str, str]]] = []
    for model in record_models():
        rows = archive.read_json(file_name(model)) if file_name(model) in archive.sizes else []
        if not isinstance(rows, list):
            message = f"the archive is damaged: {file_name(model)} holds no list"
            raise ArchiveError(message)
        pairs = model.objects.values_list("uid", "pk")  # type: ignore[attr-defined]
        keys[model] = {str(uid): pk for uid, pk in pairs}
        if model is MediaFile:
            _same_bytes(rows, keys)
        later = late_relations(model, set(keys) - {model})
        for row in rows:
            if isinstance(row, dict) and str(row.get("uid")) in keys[model]:
                known += 1
                continue
            record = _add(model, row, keys, later)
            keys[model][str(record.uid)] = record.pk
            links = {name: row[name] for name in later if row.get(name)}
            if links:
                late.append((record, links))
            added += 1
    for record, links in late:
        _link(record, links, keys)
    return Imported(added, known, tuple(_settle(incoming)))


def _add(model: type[Record], row: Any, keys: Keys, late: list[str]) -> Record:
    record = from_json(model, row, keys, late)
    try:
        with transaction.atomic():
            record.save()
    except IntegrityError as problem:
        message = f"the archive is damaged at {record.uid}: it contradicts another record"
        raise ArchiveError(message) from problem
    return record


def _link(record: Record, links: Mapping[str, str], keys: Keys) -> None:
    model = type(record)
    values = {}
    for name, uid in links.items():
        target = model._meta.get_field(name).related_model  # noqa: SLF001 - documented as public
        if uid not in keys[target]:  # type: ignore[index]
            message = f"the archive is damaged at {record.uid}: {name} {uid} is not there"
            raise ArchiveError(message)
        values[f"{name}_id"] = keys[target][uid]  # type: ignore[index]
    model.objects.filter(pk=record.pk).update(**values)  # type: ignore[attr-defined]


def _same_bytes(rows: list[Any], keys: Keys) -> None:
    """Let files that are kept already stand for the archive's rows with the same checksum."""
    here = dict(MediaFile.objects.values_list("sha256", "pk"))
    for row in rows:
        if isinstance(row, dict) and row.get("sha256") in here:
            keys[MediaFile].setdefault(str(row.get("uid")), here[row["sha256"]])


def _receive(archive: ZipReader, name: str, sha256: str) -> store.Incoming:
    with tempfile.TemporaryFile(dir=store.incoming_folder()) as file:
        archive.copy(name, file.write)
        file.seek(0)
        received = store.receive(file)
    if received.sha256 != sha256:
        store.discard(received)
        message = f"the archive is damaged: {name} does not hold what its name says"
        raise ArchiveError(message)
    return received


def _settle(incoming: Mapping[str, store.Incoming]) -> list[str]:
    """Keep the files whose rows are there; tell of rows whose file came with no archive."""
    rows = set(MediaFile.objects.values_list("sha256", flat=True))
    for sha256, file in incoming.items():
        if sha256 in rows:
            store.settle(file)
            transaction.on_commit(lambda sha256=sha256: store.confirm(sha256))  # type: ignore[misc]
    return [
        f"the file {sha256[:12]} is on record but came with no archive"
        for sha256 in sorted(rows)
        if not store.path_of(sha256).is_file()
    ]
