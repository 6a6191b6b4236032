"""What every service shares: one transaction, checked fields, a line of history, sentences."""

# ruff: noqa: SLF001 - Django documents _meta and _default_manager as public

import functools
import json
import math
from collections.abc import Callable, Mapping
from contextvars import ContextVar
from typing import Any, ParamSpec, TypeVar

from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.db import DatabaseError, IntegrityError, models, transaction
from django.utils import timezone

from outshop.errors import ConflictError, InputError, MissingError
from outshop.records import store
from outshop.records.models import ChangeEntry, Piece, SentForm
from outshop.records.models.base import Record, VersionedRecord

P = ParamSpec("P")
R = TypeVar("R")
M = TypeVar("M", bound=Record)
V = TypeVar("V", bound=VersionedRecord)

#: Who is at work, for the history.
who: ContextVar[str] = ContextVar("who", default="")

HIDDEN = {"id", "uid", "created_at", "changed_at", "version", "search_text"}


def use_case(function: Callable[P, R]) -> Callable[P, R]:
    """Run a service whole or not at all; a store that fails speaks in a sentence."""

    @functools.wraps(function)
    def whole(*args: P.args, **kwargs: P.kwargs) -> R:
        try:
            with transaction.atomic():
                return function(*args, **kwargs)
        except DatabaseError as problem:
            raise store.as_store_error(problem) or problem from problem

    return whole


def once(*, token: str, model: type[M], make: Callable[[], M]) -> M:
    """Make a record for a form's token, or give the one that the same form made before.

    Call it inside a use case. An empty token always makes a new record.
    """
    if not token:
        return make()
    try:
        with transaction.atomic():
            claim = SentForm.objects.create(
                token=token[:64], record_kind=model.__name__, record_pk=0
            )
    except IntegrityError:
        sent = SentForm.objects.get(token=token[:64])
        made = model._default_manager.filter(pk=sent.record_pk).first()
        if made is None or sent.record_kind != model.__name__:
            message = "this form was sent before; load the page again to send another"
            raise ConflictError(message) from None
        return made
    record = make()
    claim.record_pk = record.pk
    claim.save(update_fields=["record_pk"])
    return record


def add(record: M) -> M:
    """Check a new record, save it and note it in the history."""
    _tidy_texts(record)
    _check(record)
    record.save()
    note(record, ChangeEntry.Action.ADDED, [])
    return record


def change(record: V, *, version: int | None, fields: Mapping[str, Any]) -> V:
    """Change fields of a record that is still at ``version`` (None skips the question).

    Raises
    ------
    ConflictError
        Somebody changed it since; ``differences`` tells both sides.
    MissingError
        It was removed since.
    InputError
        A field does not take the value.
    """
    model = type(record)
    fresh = model._default_manager.select_for_update().filter(pk=record.pk).first()
    if fresh is None:
        message = f"{record} was removed in the meantime"
        raise MissingError(message)
    if version is not None and fresh.version != version:
        raise _conflict(fresh, fields)
    before = {name: _shown(fresh, name) for name in fields}
    linked = {name: _linked(fresh, name) for name in fields}
    for name, value in fields.items():
        setattr(fresh, name, value)
    _tidy_texts(fresh)
    after = {name: _shown(fresh, name) for name in fields}
    changes = [
        {"field": _label(fresh, name), "old": before[name], "new": after[name]}
        for name in fields
        if before[name] != after[name] or linked[name] != _linked(fresh, name)
    ]
    if changes:
        _check(fresh)
        fresh.version += 1
        fresh.changed_at = timezone.now()
        fresh.save()
        note(fresh, ChangeEntry.Action.CHANGED, changes)
    for field in model._meta.concrete_fields:  # the caller's object shows what is kept
        setattr(record, field.attname, getattr(fresh, field.attname))
    return fresh


def _linked(record: Record, name: str) -> Any:
    """Give the key of the record that a link names; two records may be called the same."""
    field = record._meta.get_field(name)
    return getattr(record, field.attname) if isinstance(field, models.ForeignKey) else None


def remove(record: Record) -> None:
    """Remove a record; the history keeps what it held."""
    held = [
        {"field": _label(record, f.name), "old": _shown(record, f.name), "new": ""}
        for f in record._meta.concrete_fields
        if f.name not in HIDDEN and _shown(record, f.name)
    ]
    note(record, ChangeEntry.Action.REMOVED, held)
    try:
        record.delete()
    except models.ProtectedError as problem:
        users = ", ".join(sorted({str(user) for user in problem.protected_objects})[:5])
        message = f"{record} is still used by {users}: take it out there first"
        raise ConflictError(message) from problem


def note(record: Record, action: ChangeEntry.Action, changes: list[dict[str, str]]) -> None:
    """Write one line of history."""
    ChangeEntry.objects.create(
        piece=_piece_of(record),
        who=who.get(),
        action=action,
        record_kind=type(record).__name__,
        record_uid=record.uid,
        record_title=str(record),
        changes=changes,
    )


def _piece_of(record: Any) -> Piece | None:
    """Find the piece that a record belongs to."""
    if isinstance(record, Piece):
        return record
    for owner in ("piece", "inspection", "card", "run_in"):
        if hasattr(record, owner):
            return _piece_of(getattr(record, owner))
    return None


def _check(record: Record) -> None:
    _refuse_endless(record)
    try:
        record.full_clean()
    except ValidationError as problem:
        raise InputError(sentence(problem, record)) from problem


def _refuse_endless(record: Record) -> None:
    """Refuse what is no number: a database keeps NaN as nothing, and JSON knows neither."""
    for field in record._meta.concrete_fields:
        value = getattr(record, field.attname)
        if isinstance(value, float) and not math.isfinite(value):
            message = f"{_label(record, field.name)}: {value} is not a number that can be kept"
            raise InputError(message)
        if isinstance(field, models.JSONField):
            try:
                json.dumps(value, allow_nan=False)
            except (TypeError, ValueError) as problem:
                message = f"{_label(record, field.name)} cannot be kept: {problem}"
                raise InputError(message) from problem


def sentence(problem: ValidationError, record: models.Model | None = None) -> str:
    """Say in one sentence what a validation found."""
    if not hasattr(problem, "error_dict"):
        return " ".join(problem.messages)
    parts = []
    for name, messages in problem.message_dict.items():
        label = "" if name == NON_FIELD_ERRORS or record is None else f"{_label(record, name)}: "
        parts.append(label + " ".join(messages))
    return "; ".join(parts)


def _conflict(fresh: VersionedRecord, fields: Mapping[str, Any]) -> ConflictError:
    title, theirs = str(fresh), {name: _shown(fresh, name) for name in fields}
    for name, value in fields.items():
        setattr(fresh, name, value)
    mine = {name: _shown(fresh, name) for name in fields}
    differences = tuple(
        (_label(fresh, name), mine[name], theirs[name])
        for name in fields
        if mine[name] != theirs[name]
    )
    message = (
        f"{title} was changed in another window since you opened it: nothing was overwritten; "
        "look at both versions and send again what you want to keep"
    )
    return ConflictError(message, differences)


def _label(record: models.Model, name: str) -> str:
    field = record._meta.get_field(name)
    return str(getattr(field, "verbose_name", name))


def _shown(record: models.Model, name: str) -> str:
    """Write a field's value as a person reads it."""
    display = getattr(record, f"get_{name}_display", None)
    value = display() if display else getattr(record, name)
    return "" if value is None or value in ("", [], {}) else str(value)


def _tidy_texts(record: models.Model) -> None:
    """Replace what no database takes: NUL and lone surrogates, as odd file names hold them."""
    for field in record._meta.concrete_fields:
        value = getattr(record, field.attname)
        if isinstance(value, str):
            setattr(record, field.attname, tidy_text(value))


def tidy_text(text: str) -> str:
    """Give ``text`` without NUL and lone surrogates."""
    return text.replace("\x00", "\ufffd").encode("utf-8", "replace").decode("utf-8")
