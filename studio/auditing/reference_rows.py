"""What the writers of reference data share: the row as it is now, its facts, and whether anything refers to it."""

from collections.abc import Collection
from dataclasses import fields
from typing import TYPE_CHECKING, TypeVar

from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.db.models import PROTECT, Model

from studio.auditing.edit_conflicts import refuse_stale
from studio.errors import InputError, refuse_all
from studio.translation import _

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

Row = TypeVar("Row", bound=Model)


def locked(row: Row, *, seen: int | None) -> Row:
    """The row as it is now, held until the transaction ends. Raises EditConflict when it was changed after `seen`."""
    now: Row = type(row)._base_manager.select_for_update().get(pk=row.pk)
    refuse_stale(now, seen=seen)
    return now


def save_facts(row: Model, facts: "DataclassInstance", *, leave_out: Collection[str] = ()) -> None:
    """Save facts in the columns of the same names, texts without blanks around them.

    Raises InputError, naming the column, for what one cannot hold. The model says that: lengths, choices, ranges
    and names that are taken.
    """
    for field in fields(facts):
        if field.name not in leave_out:
            value = getattr(facts, field.name)
            setattr(row, field.name, value.strip() if isinstance(value, str) else value)
    try:
        row.full_clean(validate_constraints=False)
    except ValidationError as problem:
        refuse_all(
            InputError(message, field=None if column == NON_FIELD_ERRORS else column)
            for column, errors in problem.error_dict.items()
            for message in _messages(errors)
        )
    row.save()


def _messages(errors: list[ValidationError]) -> list[str]:
    if any(error.code == "unique" for error in errors):
        return [_("This is already taken. Choose another.")]
    return [message for error in errors for message in error.messages]


def is_in_use(row: Model) -> bool:
    """Whether another row, of whichever room, keeps this one from being deleted."""
    return any(
        relation.related_model._base_manager.filter(**{relation.field.name: row.pk}).exists()
        for relation in row._meta.related_objects
        if relation.on_delete is PROTECT
    )
