"""Writers of reference data: a row is saved, or deleted where nothing refers to it."""

from typing import Any, TypeVar

from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.db.models import PROTECT, Model

from studio.auditing.edit_conflicts import refuse_stale
from studio.errors import InputError, MeniscusError, refuse_all
from studio.submission import Submission, transaction
from studio.translation import _

Row = TypeVar("Row", bound=Model)


class InUse(MeniscusError):
    """Raised when a row cannot be deleted because others refer to it."""


def locked(row: Row, *, seen: int | None) -> Row:
    """The row as it is now, held until the transaction ends. Raises EditConflict when it was changed after `seen`."""
    now: Row = type(row)._base_manager.select_for_update().get(pk=row.pk)
    refuse_stale(now, seen=seen)
    return now


def save_row(row: Row, *, submission: Submission | None, seen: int | None = None) -> Row:
    """Add a row, or change one. Raises InputError naming the column, EditConflict when it was changed after `seen`."""
    with transaction(submission):
        if row.pk is not None:
            locked(row, seen=seen)
        refuse_invalid(row)
        row.save()
    return row


def set_columns(row: Row, *, submission: Submission | None, **columns: Any) -> Row:
    """Set single columns, whatever else has changed: what a button says."""
    with transaction(submission):
        now = locked(row, seen=None)
        for name, value in columns.items():
            setattr(now, name, value)
        now.save(update_fields=list(columns))
    return now


def delete_row(row: Model, *, submission: Submission, seen: int | None = None, refusal: str = "") -> None:
    """Remove a row that nothing refers to. Raises InUse with `refusal` for any other, EditConflict."""
    with transaction(submission):
        now = locked(row, seen=seen)
        if is_in_use(now):
            raise InUse(refusal)
        now.delete()


def refuse_invalid(row: Model) -> None:
    """Raise InputError for what the model refuses: lengths, choices, ranges, names that are taken, its own `clean`.

    That comes first, being in better words than a column's own. Texts lose the blanks around them.
    """
    for column in row._meta.concrete_fields:
        value = getattr(row, column.attname)
        if isinstance(value, str):
            setattr(row, column.attname, value.strip())
    try:
        row.clean()
        _refuse_columns(row)
    except ValidationError as problem:
        refuse_all(
            InputError(message, field=None if column == NON_FIELD_ERRORS else column)
            for column, errors in problem.update_error_dict({}).items()
            for message in _messages(errors)
        )


def _refuse_columns(row: Model) -> None:
    """Django's `full_clean` without the model's own `clean`, which has been asked already."""
    errors: dict[str, Any] = {}
    try:
        row.clean_fields()
    except ValidationError as problem:
        errors = problem.update_error_dict(errors)
    try:
        row.validate_unique(exclude=set(errors))
    except ValidationError as problem:
        errors = problem.update_error_dict(errors)
    if errors:
        raise ValidationError(errors)


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
