"""The change log field by field: what django-auditlog keeps of a save, and what edit pages ask of it."""

import dataclasses
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from auditlog.models import LogEntry
from django.db.models import IntegerChoices, Max, Model, Q, QuerySet
from django.utils.translation import gettext_lazy

from studio.auditing.recording import SECRET, recorded, unit_of


class ChangeAction(IntegerChoices):
    """The library's codes, in our words."""

    ADDED = LogEntry.Action.CREATE, gettext_lazy("Added")
    CHANGED = LogEntry.Action.UPDATE, gettext_lazy("Changed")
    DELETED = LogEntry.Action.DELETE, gettext_lazy("Deleted")


@dataclass(frozen=True, slots=True)
class FieldChange:
    """One field of one row, changed once; without a field, a row that was added or deleted.

    `row` is its number in its table, `name` what it was called then. `units` are those of its figures at the time.
    """

    at: datetime
    by: Any
    kind: str
    model: type[Model] | None
    row: str
    name: str
    action: ChangeAction
    field: str = ""
    old: Any = None
    new: Any = None
    units: Mapping[str, str] = dataclasses.field(default_factory=dict)


def entries() -> "QuerySet[Any]":
    """The change log, oldest first, with what `field_changes` reads."""
    rows: QuerySet[Any] = LogEntry.objects.select_related("actor", "content_type").order_by("pk")
    return rows


def about(model: type[Model]) -> Q:
    """Entries about a model's rows."""
    return Q(content_type__app_label=model._meta.app_label, content_type__model=model._meta.model_name)


def field_changes(log: Iterable[Any], *, fields: Collection[str] = ()) -> list[FieldChange]:
    """The changes of entries, in their order; of these fields, if any is named."""
    return [change for entry in log for change in _split(entry) if not fields or change.field in fields]


def _split(entry: Any) -> Iterator[FieldChange]:
    kind, noted = entry.content_type, entry.additional_data or {}
    model, action = kind.model_class(), ChangeAction(entry.action)
    whole = FieldChange(
        at=entry.timestamp,
        by=entry.actor,
        kind=f"{kind.app_label}.{kind.model}",
        model=model,
        row=entry.object_pk,
        name=noted.get("name", entry.object_repr),
        action=action,
    )
    if action != ChangeAction.CHANGED:
        yield whole
        return
    order = {name: place for place, name in enumerate(what.fields)} if (what := recorded(model)) else {}
    for name in sorted(entry.changes, key=lambda name: order.get(name, len(order))):
        old, new = entry.changes[name]
        yield replace(whole, field=name, old=old, new=new, units=noted)


def last_change_number(table: type[Model], *rows: object, fields: Collection[str] = ()) -> int:
    """The number of the last change to a row, or to any of some (of these fields, if named); 0 without one. One query.

    Ask for it before the rows are read, or a change may slip between.
    """
    number: int | None = _changes(table, rows, fields).aggregate(last=Max("pk"))["last"]
    return number or 0


def changes_since(
    table: type[Model], pk: object, number: int, *, fields: Collection[str] = ()
) -> list[FieldChange]:
    """The changes after a number, each field once: from what it was then to what it is now, by who changed it last.

    A field that has its old value again is left out.
    """
    since = _changes(table, [pk], fields).filter(pk__gt=number)
    return _summed(field_changes(since, fields=fields))


def history(table: type[Model], pk: object) -> list[FieldChange]:
    """Every change to a row since it was added, the latest first."""
    return list(reversed(field_changes(_changes(table, [pk], ()))))


def _changes(table: type[Model], keys: Collection[object], fields: Collection[str]) -> "QuerySet[Any]":
    # That the row itself was added is no change to it.
    rows = about(table) & Q(object_pk__in=[str(pk) for pk in keys]) & ~Q(action=ChangeAction.ADDED)
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


def values_before(table: type[Model], rows: Collection[int], field: str, since: datetime) -> dict[int, Any]:
    """What a field of some rows held at a time, where it was changed since: as the log keeps it, by row. One query."""
    changes = entries().filter(about(table), object_pk__in=[str(pk) for pk in rows], timestamp__gt=since)
    before: dict[int, Any] = {}
    for change in field_changes(changes.filter(action=ChangeAction.CHANGED), fields=[field]):
        before.setdefault(int(change.row), change.old)
    return before
