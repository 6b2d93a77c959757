"""The record of changes to reference data: who changed which field of what, when, from what, to what.

Our own table rather than a history library: one append-only table that a trigger guards in both databases, one
row per field (so the page is one query), and no copy of every audited table. Rows are recorded when models are
saved or deleted; `update()` and the bulk calls go past that, so a test keeps them away from audited models.
Figures are kept as they are stored and written out when shown. Of the models in settings.EDITED only the named
columns are recorded, and only when they change: postings tell how such rows came to be.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any

from django.apps import apps
from django.conf import settings
from django.db import DEFAULT_DB_ALIAS
from django.db.models import Model
from django.db.models.signals import post_delete, post_save, pre_save
from django.http import HttpRequest
from django.utils import timezone

from studio.accounts import security_log as security
from studio.accounts.models import User
from studio.auditing.models import Change, ChangeAction

_acting: ContextVar[HttpRequest | None] = ContextVar("acting", default=None)
_RIGHTS = {"role", "may_see_money", "is_active", "is_staff", "is_superuser"}


@contextmanager
def acting(request: HttpRequest) -> Iterator[None]:
    """Meanwhile, whatever is changed is changed by the person behind this request."""
    token = _acting.set(request)
    try:
        yield
    finally:
        _acting.reset(token)


def watch() -> None:
    """Record the models that settings.RECORDED names."""
    for label in settings.RECORDED:
        model = apps.get_model(label)
        pre_save.connect(_before_save, sender=model, dispatch_uid=f"audit {label}")
        post_save.connect(_after_save, sender=model, dispatch_uid=f"audit {label}")
        if label in settings.AUDITED:
            post_delete.connect(_after_delete, sender=model, dispatch_uid=f"audit {label}")


def way_of_writing(model: type[Model], field: str) -> str:
    """How a field is written: money, percent, a measure, a ratio's unit, file, secret or unrecorded.

    "money in …" and "quantity in …" name the column that holds the currency or the measure. "" for as it stands.
    """
    label = model._meta.label
    return str(settings.RECORDED[label].get(field, "unrecorded" if label in settings.EDITED else ""))


def record_change(row: Model, *, field: str, old: str, new: str) -> None:
    """Record a change to what a row stands for, though no column of its own holds it."""
    _record(DEFAULT_DB_ALIAS, _change(row, ChangeAction.CHANGED, field=field, old=old, new=new))


def _before_save(
    sender: type[Model], instance: Model, using: str, update_fields: Any = None, **kwargs: Any
) -> None:
    """Look up what stands in the database now; what differs is recorded once the row is saved."""
    names = [
        field.attname
        for field in sender._meta.concrete_fields
        if way_of_writing(sender, field.name) != "unrecorded"
        and (update_fields is None or field.name in update_fields or field.attname in update_fields)
    ]
    instance._stood = _row(instance, using, names)  # type: ignore[attr-defined]


def _after_save(sender: type[Model], instance: Model, created: bool, using: str, **kwargs: Any) -> None:
    stood: dict[str, Any] = instance.__dict__.pop("_stood", {})
    if created:
        if sender._meta.label in settings.AUDITED:
            _record(using, _change(instance, ChangeAction.ADDED))
    elif stood:
        _record(using, *_differences(instance, stood, _row(instance, using, list(stood))))


def _row(instance: Model, using: str, names: list[str]) -> dict[str, Any]:
    if instance.pk is None or not names:
        return {}
    rows = type(instance)._base_manager.using(using)
    return rows.filter(pk=instance.pk).values(*names).first() or {}


def _after_delete(sender: type[Model], instance: Model, using: str, **kwargs: Any) -> None:
    _record(using, _change(instance, ChangeAction.DELETED))


def _differences(instance: Model, old: dict[str, Any], new: dict[str, Any]) -> list[Change]:
    found = []
    for name in [name for name in old if old[name] != new.get(name)]:
        secret = way_of_writing(type(instance), name) == "secret"
        texts = {} if secret else {"old": _text(old[name]), "new": _text(new.get(name))}
        found.append(_change(instance, ChangeAction.CHANGED, field=name, **texts))
    return found


def _record(using: str, *changes: Change) -> None:
    Change.objects.using(using).bulk_create(changes)
    for change in changes:
        if change.kind == "studio.user" and change.action != ChangeAction.CHANGED:
            security.event(f"person_{change.action}", _acting.get(), account=change.name)
        elif change.kind == "studio.user" and change.field in _RIGHTS:
            said = {"account": change.name, "field": change.field, "old": change.old, "new": change.new}
            security.event("role_changed", _acting.get(), **said)


def _change(instance: Model, action: ChangeAction, **facts: str) -> Change:
    return Change(
        at=timezone.now(),
        by=_person(),
        kind=instance._meta.label_lower,
        row=str(instance.pk),
        name=_called(instance)[:200],
        action=action,
        **facts,
    )


def _person() -> User | None:
    user = getattr(_acting.get(), "user", None)
    return user if isinstance(user, User) else None


def _called(instance: Model) -> str:
    """A row's name; one that has none is called after the rows that it joins."""
    if instance._meta.label in settings.EDITED:
        return str(instance)
    names = {field.name for field in instance._meta.concrete_fields}
    joined = [getattr(instance, field.name) for field in instance._meta.concrete_fields if field.is_relation]
    return str(instance) if names & {"name", "username"} or not joined else ", ".join(map(str, joined))


def _text(value: Any) -> str:
    return "" if value is None else str(value)
