"""What edit pages ask of the change log: the last change to a row, and what was changed since."""

from collections.abc import Collection, Iterable
from dataclasses import replace
from typing import Any, TypeAlias

from django.db.models import Max, Model, Q, QuerySet

from studio.auditing.changes import ChangeAction, FieldChange, about, entries, field_changes
from studio.auditing.recording import SECRET, unit_of

# Rows of other tables that are edited on the same page, such as a supplier's packs: each table with its keys.
Related: TypeAlias = Collection[tuple[type[Model], Collection[object]]]


def last_change_number(
    table: type[Model], pk: object, *, fields: Collection[str] = (), related: Related = ()
) -> int:
    """The number of the last change to a row (to some of its fields, if named) or related rows; 0 without one.

    Ask for it before the row is read, or a change may slip between.
    """
    number: int | None = _changes(table, pk, fields, related).aggregate(last=Max("pk"))["last"]
    return number or 0


def changes_since(
    table: type[Model], pk: object, number: int, *, fields: Collection[str] = (), related: Related = ()
) -> list[FieldChange]:
    """The changes after a number, each field once: from what it was then to what it is now, by who changed it last.

    A field that has its old value again is left out.
    """
    since = _changes(table, pk, fields, related).filter(pk__gt=number)
    return _summed(field_changes(since, fields=fields))


def history(table: type[Model], pk: object) -> list[FieldChange]:
    """Every change to a row since it was added, the latest first."""
    return list(reversed(field_changes(_changes(table, pk, (), ()))))


def _changes(table: type[Model], pk: object, fields: Collection[str], related: Related) -> "QuerySet[Any]":
    # That the row itself was added is no change to it.
    rows = about(table) & Q(object_pk=str(pk)) & ~Q(action=ChangeAction.ADDED)
    for other, keys in related:
        rows |= about(other) & Q(object_pk__in=[str(key) for key in keys])
    changes = entries().filter(rows)
    return changes.filter(changes__has_any_keys=list(fields)) if fields else changes


def _summed(changes: Iterable[FieldChange]) -> list[FieldChange]:
    latest: dict[tuple[str, str, str], FieldChange] = {}
    for change in changes:
        key = (change.kind, change.row, change.field)
        latest[key] = replace(change, old=latest.pop(key, change).old)
    return [change for change in latest.values() if change.old != change.new or not _is_compared(change)]


def _is_compared(change: FieldChange) -> bool:
    """Whether old and new value tell if anything changed: not of a row added or deleted, nor of a secret."""
    return bool(change.field) and unit_of(change.model, change.field) != SECRET
