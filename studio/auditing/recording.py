"""Which rows the change log (django-auditlog) records, and how their figures are written.

Each room decorates the models whose changes matter. Entries are made when rows are saved or deleted; `update()` and
the bulk calls go past that, so a test keeps them away from these models. Values are kept as they are stored and put
into words when shown (`studio/auditing/wording.py`). No entry is ever rewritten: triggers see to that.
"""

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, TypeVar

from auditlog.models import LogEntry
from auditlog.registry import auditlog
from auditlog.signals import pre_log
from django.db import connections
from django.db.models import Model
from django.db.models.signals import pre_save

if TYPE_CHECKING:
    from django.utils.functional import _StrOrPromise

    from studio.preferences.formatting import Formatter

Row = TypeVar("Row", bound=Model)
SECRET = "secret"  # noqa: S105 (a way of writing, not a password)


@dataclass(frozen=True, slots=True)
class Virtual:
    """Something that is recorded of a row though no column of its own holds it."""

    label: "_StrOrPromise"
    words: Callable[[Any, "Formatter"], str]


@dataclass(frozen=True, slots=True)
class Recorded:
    """What the change log keeps of a model."""

    fields: Collection[str]
    is_whole: bool  # rows that are added and deleted are recorded as well
    units: Mapping[str, str]
    virtual: Mapping[str, Virtual] = field(default_factory=dict)


_MODELS: dict[type[Model], Recorded] = {}


def audited(
    *,
    only: Collection[str] = (),
    without: Collection[str] = (),
    secrets: Collection[str] = (),
    units: Mapping[str, str] | None = None,
    virtual: Mapping[str, Virtual] | None = None,
) -> Callable[[type[Row]], type[Row]]:
    """Record every change to a model's rows: to all columns, or `only` to those that are corrected by hand.

    Of a model with `only`, rows that come and go are not recorded: postings tell of them. Of `secrets` it is kept
    that they changed, never what they were. `units` says how a column's figures are written: money, percent, rate,
    a measure, a ratio, file; "money in currency" and "quantity in measure" name the key of the model's own
    `get_additional_data()` that holds the unit at the time; its key "name" names rows that have no name of their own.
    """

    def register(model: type[Row]) -> type[Row]:
        columns = [column.name for column in model._meta.concrete_fields if not column.primary_key]
        fields = [name for name in columns if name not in without and (name in only or not only)]
        ways = {**(units or {}), **dict.fromkeys(secrets, SECRET)}
        if unknown := {*only, *without, *ways} - set(columns):
            raise ValueError(f"{model._meta.label} has no {', '.join(sorted(unknown))}.")
        _MODELS[model] = Recorded(fields, not only, ways, virtual or {})
        pre_save.connect(_lock_row, sender=model, dispatch_uid=f"lock {model._meta.label}")
        auditlog.register(
            model, include_fields=fields, mask_fields=list(secrets), mask_callable=f"{__name__}.nothing_of"
        )
        if only:
            pre_log.connect(_is_change, sender=model, dispatch_uid=f"only changes {model._meta.label}")
        return model

    return register


def nothing_of(secret: str) -> str:
    """What is kept of a secret."""
    return ""


def recorded_models() -> list[type[Model]]:
    """Every model that the change log records."""
    return list(_MODELS)


def recorded(model: type[Model] | None) -> Recorded | None:
    """What the change log keeps of a model, or None."""
    return _MODELS.get(model) if model else None


def unit_of(model: type[Model] | None, name: str) -> str:
    """How a field's figures are written; "" for as they stand."""
    kept = recorded(model)
    return kept.units.get(name, "") if kept else ""


def record_change(row: Model, *, field: str, old: Any, new: Any) -> None:
    """Record a change to what a row stands for, though no column of its own holds it. Values are plain JSON."""
    LogEntry.objects.log_create(row, action=LogEntry.Action.UPDATE, changes={field: [old, new]})


def _is_change(sender: type[Model], action: int, **kwargs: Any) -> bool:
    return bool(action == LogEntry.Action.UPDATE)


def _lock_row(sender: type[Model], instance: Model, using: str, **kwargs: Any) -> None:
    """Lock the row before its old values are read, so that the numbers of its changes rise as they come to stand.

    On SQLite a writing transaction shuts out every other from its start.
    """
    connection = connections[using]
    if instance._state.adding or not connection.in_atomic_block:
        return
    if connection.features.has_select_for_update:
        rows = sender._base_manager.using(using).select_for_update(no_key=True)
        list(rows.filter(pk=instance.pk).values_list("pk"))
