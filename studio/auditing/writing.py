"""How the chain hears of rows: from Django's signals, and from those who write many rows at once, which send none."""

from collections.abc import Collection, Iterable, Mapping
from typing import Any, TypeVar

from django.apps import AppConfig
from django.db import DEFAULT_DB_ALIAS
from django.db.models import SET_NULL, Model, QuerySet
from django.db.models.signals import m2m_changed, post_delete, post_save, pre_delete

from studio.auditing import chain
from studio.auditing.sealed_rows import Sealed, sealed, tables_of

Row = TypeVar("Row", bound=Model)
ROWS_A_STATEMENT = 500


def seal_tables(app: AppConfig, *, without: Mapping[str, str], apart: Collection[str] = ()) -> None:
    """Seal whatever is written into an app's tables from now on, but those named, each with its reason.

    Columns that stay behind when their rows move to another studio are sealed `apart`.
    """
    for model in tables_of(app, without, apart):
        _listen(model)


def create_all(rows: Iterable[Row]) -> list[Row]:
    """Add rows of one table in one statement."""
    made = list(rows)
    if made:
        model = type(made[0])
        model._default_manager.bulk_create(made)
        chain.wrote(model, [row.pk for row in made])
    return made


def change_all(rows: Iterable[Row], *columns: str) -> None:
    """Write these columns of rows of one table, many in one statement."""
    changed = list(rows)
    if changed:
        model = type(changed[0])
        model._default_manager.bulk_update(changed, columns, batch_size=ROWS_A_STATEMENT)
        for part in _parts_with(model, columns):
            chain.wrote_part(part, [row.pk for row in changed])


def set_all(rows: QuerySet[Any], **values: Any) -> int:
    """Set columns of every row of a query to the same values; how many rows that were."""
    parts = _parts_with(rows.model, values)
    if not parts:
        return rows.update(**values)
    numbers = list(rows.values_list("pk", flat=True))
    rows.model._base_manager.filter(pk__in=numbers).update(**values)
    for part in parts:
        chain.wrote_part(part, numbers)
    return len(numbers)


def _parts_with(model: type[Model], columns: Iterable[str]) -> list[Sealed]:
    """What is sealed of a table that has one of these columns in it."""
    written = list(columns)
    return [part for part in sealed(model) if part.are_among(written)]


def _listen(model: type[Model]) -> None:
    name = f"sealed {model._meta.label}"
    post_save.connect(_saved, sender=model, dispatch_uid=name)
    post_delete.connect(_deleted, sender=model, dispatch_uid=name)
    if _links(model) or any(relation.on_delete is SET_NULL for relation in model._meta.related_objects):
        pre_delete.connect(_letting_go, sender=model, dispatch_uid=name)
    if model._meta.auto_created:
        m2m_changed.connect(_linked, sender=model, dispatch_uid=name)


def _saved(
    sender: type[Model],
    instance: Model,
    raw: bool,
    using: str,
    update_fields: Collection[str] | None = None,
    **kwargs: Any,
) -> None:
    if raw:
        return
    for part in sealed(sender) if update_fields is None else _parts_with(sender, update_fields):
        chain.wrote_part(part, [instance.pk], using=using)


def _deleted(sender: type[Model], instance: Model, using: str, **kwargs: Any) -> None:
    chain.wrote(sender, [instance.pk], gone=True, using=using)


def _letting_go(sender: type[Model], instance: Model, using: str, **kwargs: Any) -> None:
    """Seal the rows that outlive the one they refer to, and those that link it to others: Django empties the column
    of the first and deletes the second without sending a signal.
    """
    for link in _links(sender):
        model = link.related_model
        rows = model._base_manager.using(using).filter(**{link.field.name: instance.pk})
        chain.wrote(model, list(rows.values_list("pk", flat=True)), gone=True, using=using)
    for relation in sender._meta.related_objects:
        model = relation.related_model
        if relation.on_delete is SET_NULL and sealed(model):
            rows = model._base_manager.using(using).filter(**{relation.field.name: instance.pk})
            chain.wrote(model, list(rows.values_list("pk", flat=True)), using=using)


def _links(model: type[Model]) -> list[Any]:
    """The relations by which rows of tables that Django made itself link a model's rows to others."""
    hidden = model._meta.get_fields(include_hidden=True)
    return [each for each in hidden if each.one_to_many and each.related_model._meta.auto_created]  # type: ignore[union-attr]


def _linked(
    sender: type[Model], instance: Model, action: str, reverse: bool, using: str | None = None, **kwargs: Any
) -> None:
    """Rows that link an instance to others: all of its own, before some go and after some came."""
    if action not in ("post_add", "pre_remove", "pre_clear"):
        return
    columns = [each.attname for each in sender._meta.concrete_fields if each.related_model is type(instance)]
    rows = sender._base_manager.using(using or DEFAULT_DB_ALIAS).filter(**{columns[0]: instance.pk})
    numbers = list(rows.values_list("pk", flat=True))
    chain.wrote(sender, numbers, gone=action != "post_add", using=using or DEFAULT_DB_ALIAS)
