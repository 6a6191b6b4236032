"""Compare what is on record with what is in the store; nothing is changed."""

# ruff: noqa: SLF001 - Django documents _meta as public

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Literal

from django.core.exceptions import ValidationError
from django.db import DatabaseError, connection

from outshop.records import store
from outshop.records.archive.rows import record_models
from outshop.records.models import MediaFile
from outshop.records.models.base import Record
from outshop.records.services.saving import sentence

Fault = Literal["missing", "changed", "orphaned", "unfinished", "broken_row", "broken_database"]
ROWS_AT_ONCE = 500


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong, where, and the sentence that says so."""

    fault: Fault
    where: str
    sentence: str


def check(*, quick: bool = False, progress: Callable[[str], None] | None = None) -> list[Problem]:
    """Look at everything that is kept.

    Parameters
    ----------
    quick : bool
        Compare sizes only and do not read the files.
    progress : callable
        Is told what is looked at.
    """
    tell = progress or (lambda _what: None)
    problems: list[Problem] = []
    tell("the database")
    problems += _database()
    for model in record_models():
        tell(str(model._meta.verbose_name_plural))
        problems += _rows(model)
    tell("the kept files")
    problems += _files(quick)
    return problems


def _database() -> Iterator[Problem]:
    if connection.vendor != "sqlite":
        return
    with connection.cursor() as cursor:
        try:
            cursor.execute("PRAGMA integrity_check(20)")
            for (verdict,) in cursor.fetchall():
                if verdict != "ok":
                    yield Problem("broken_database", "database", f"the database says: {verdict}")
            cursor.execute("PRAGMA foreign_key_check")
            for table, row, other, _ in cursor.fetchall():
                where = f"{table} {row}"
                yield Problem("broken_row", where, f"{where} points at a {other} that is not there")
        except DatabaseError as problem:
            yield Problem("broken_database", "database", f"the database cannot be read: {problem}")


def _rows(model: type[Record]) -> Iterator[Problem]:
    keys = list(model.objects.order_by("pk").values_list("pk", flat=True))  # type: ignore[attr-defined]
    for begin in range(0, len(keys), ROWS_AT_ONCE):
        chunk = keys[begin : begin + ROWS_AT_ONCE]
        try:
            records = list(model.objects.filter(pk__in=chunk))  # type: ignore[attr-defined]
        except (ValueError, TypeError, DatabaseError):  # one of them cannot even be read
            for key in chunk:
                yield from _row(model, key)
        else:
            for record in records:
                yield from _fields(record)


def _row(model: type[Record], key: int) -> Iterator[Problem]:
    try:
        record = model.objects.get(pk=key)  # type: ignore[attr-defined]
    except (ValueError, TypeError, DatabaseError) as problem:
        where = f"{model._meta.model_name} {key}"
        yield Problem("broken_row", where, f"{where} cannot be read: {problem}")
    else:
        yield from _fields(record)


def _fields(record: Record) -> Iterator[Problem]:
    relations = {f.name for f in record._meta.concrete_fields if f.is_relation}
    try:
        record.clean_fields(exclude=relations)
    except ValidationError as problem:
        where = f"{record._meta.model_name} {record.pk}"
        said = sentence(problem, record)
        yield Problem("broken_row", where, f"{where} holds what it must not: {said}")


def _files(quick: bool) -> Iterator[Problem]:
    rows = MediaFile.objects.order_by("sha256").values_list("sha256", "size", "original_name")
    known = set()
    for sha256, size, name in rows:
        known.add(sha256)
        try:
            yield from _file(sha256, size, name or sha256[:12], quick)
        except OSError as problem:
            text = f"{name or sha256[:12]} cannot be read: {problem.strerror}"
            yield Problem("changed", sha256, text)
    for path in store.all_files():
        if path.name not in known:
            text = f"{path} lies in the store, but no record knows it"
            yield Problem("orphaned", str(path), text)
    for path in store.unfinished():
        text = f"{path} was left over when the program was cut off"
        yield Problem("unfinished", str(path), text)


def _file(sha256: str, size: int, name: str, quick: bool) -> Iterator[Problem]:
    path = store.path_of(sha256)
    if not path.is_file():
        yield Problem("missing", sha256, f"{name} is gone: bring {path} back from a backup")
    elif path.stat().st_size != size:
        text = f"{name} has {path.stat().st_size} bytes and should have {size}: bring back {path}"
        yield Problem("changed", sha256, text)
    elif not quick and store.checksum(path).sha256 != sha256:
        yield Problem("changed", sha256, f"{name} was changed: bring {path} back from a backup")
