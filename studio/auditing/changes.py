"""The change log field by field: what django-auditlog keeps of a save in one entry, as one change for each field."""

import dataclasses
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from auditlog.models import LogEntry
from django.db.models import IntegerChoices, Model, Q, QuerySet
from django.utils.translation import gettext_lazy

from studio.auditing.recording import recorded


class ChangeAction(IntegerChoices):
    """The library's codes, in our words."""

    ADDED = LogEntry.Action.CREATE, gettext_lazy("Added")
    CHANGED = LogEntry.Action.UPDATE, gettext_lazy("Changed")
    DELETED = LogEntry.Action.DELETE, gettext_lazy("Deleted")


@dataclass(frozen=True, slots=True)
class FieldChange:
    """One field of one row, changed once; without a field, a row that was added or deleted.

    `number` is the entry's, `row` the row's in its table, `name` what the row was called then. `units` are those of
    its figures at the time.
    """

    number: int
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
    found: QuerySet[Any] = LogEntry.objects.select_related("actor", "content_type").order_by("pk")
    return found


def about(model: type[Model]) -> Q:
    """Entries about a model's rows."""
    return Q(content_type__app_label=model._meta.app_label, content_type__model=model._meta.model_name)


def field_changes(found: Iterable[Any], *, fields: Collection[str] = ()) -> list[FieldChange]:
    """The changes of entries, in their order; of these fields, if any is named."""
    return [change for entry in found for change in _split(entry) if not fields or change.field in fields]


def _split(entry: Any) -> Iterator[FieldChange]:
    kind, noted = entry.content_type, entry.additional_data or {}
    model, action = kind.model_class(), ChangeAction(entry.action)
    facts: dict[str, Any] = {
        "number": entry.pk,
        "at": entry.timestamp,
        "by": entry.actor,
        "kind": f"{kind.app_label}.{kind.model}",
        "model": model,
        "row": entry.object_pk,
        "name": noted.get("name", entry.object_repr),
        "action": action,
    }
    if action != ChangeAction.CHANGED:
        yield FieldChange(**facts)
        return
    order = {name: place for place, name in enumerate(what.fields)} if (what := recorded(model)) else {}
    for name in sorted(entry.changes, key=lambda name: order.get(name, len(order))):
        old, new = entry.changes[name]
        yield FieldChange(**facts, field=name, old=old, new=new, units=noted)
