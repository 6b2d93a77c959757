"""What edit pages ask of the change log: the last change to a row, and what was changed since."""

from collections.abc import Collection, Iterable
from typing import TypeAlias

from django.apps import apps
from django.db.models import Max, Model, Q, QuerySet

from studio.auditing.models import Change, ChangeAction
from studio.auditing.recording import way_of_writing

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
) -> list[Change]:
    """The changes after a number, each field once: from what it was then to what it is now, by who changed it last.

    A field that has its old value again is left out.
    """
    changes = _changes(table, pk, fields, related).filter(pk__gt=number).select_related("by").order_by("pk")
    return _summed(changes)


def _changes(table: type[Model], pk: object, fields: Collection[str], related: Related) -> QuerySet[Change]:
    # That the row itself was added is no change to it.
    rows = Q(kind=table._meta.label_lower, row=str(pk)) & ~Q(action=ChangeAction.ADDED)
    for other, keys in related:
        rows |= Q(kind=other._meta.label_lower, row__in=[str(key) for key in keys])
    changes = Change.objects.filter(rows)
    return changes.filter(field__in=fields) if fields else changes


def _summed(changes: Iterable[Change]) -> list[Change]:
    latest: dict[tuple[str, str, str], Change] = {}
    for change in changes:
        key = (change.kind, change.row, change.field)
        change.old = latest.pop(key, change).old
        latest[key] = change
    return [change for change in latest.values() if change.old != change.new or not _is_compared(change)]


def _is_compared(change: Change) -> bool:
    """Whether old and new value tell if anything changed: not of a row added or deleted, nor of a secret."""
    return bool(change.field) and way_of_writing(apps.get_model(change.kind), change.field) != "secret"
