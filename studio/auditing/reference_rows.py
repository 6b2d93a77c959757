"""What the writers of reference data share: the row as it is now, its facts, and whether anything refers to it."""

from collections.abc import Collection
from dataclasses import fields
from typing import TYPE_CHECKING, TypeVar

from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.db.models import PROTECT, Model

from studio.auditing.edit_conflicts import refuse_stale
from studio.errors import InputError

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

Row = TypeVar("Row", bound=Model)


def locked(row: Row, *, seen: int | None) -> Row:
    """The row as it is now, held until the transaction ends. Raises EditConflict when it was changed after `seen`."""
    now: Row = type(row)._base_manager.select_for_update().get(pk=row.pk)
    refuse_stale(now, seen=seen)
    return now


def save_facts(row: Model, facts: "DataclassInstance", *, leave_out: Collection[str] = ()) -> None:
    """Save facts in the columns of the same names. Raises InputError, naming the column, for what one cannot hold.

    The model itself says that: lengths, choices, ranges, and names that are taken.
    """
    for field in fields(facts):
        if field.name not in leave_out:
            setattr(row, field.name, getattr(facts, field.name))
    try:
        row.full_clean(validate_constraints=False)
    except ValidationError as problem:
        column, messages = next(iter(problem.message_dict.items()))
        raise InputError(" ".join(messages), field=None if column == NON_FIELD_ERRORS else column) from None
    row.save()


def is_in_use(row: Model) -> bool:
    """Whether another row, of whichever room, keeps this one from being deleted."""
    return any(
        relation.related_model._base_manager.filter(**{relation.field.name: row.pk}).exists()
        for relation in row._meta.related_objects
        if relation.on_delete is PROTECT
    )
