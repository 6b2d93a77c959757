"""No update is lost: whoever saves what somebody else has changed since is told of it, and nothing is written.

A page that edits a row carries the number of the last recorded change that it has seen, read before the row itself.
The save locks the row and then looks for later ones. Changes are recorded while their row is locked, so the numbers
of one row's changes rise in the order in which they came to stand; rows that belong to another are changed with that
one locked. The page that tells of the changes carries their numbers: saved again, they have been seen. What of them
stands in fields that the refused page had left alone is put there at once (`studio/auditing/merging.py`).
"""

from collections.abc import Collection, Iterable
from copy import copy
from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.core.exceptions import FieldDoesNotExist
from django.db.models import Field, Max, Model, Q, QuerySet

from studio.auditing.models import Change, ChangeAction
from studio.auditing.recording import way_of_writing
from studio.auditing.wording import all_in_words
from studio.errors import MeniscusError
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.translation import _
from studio.values.numbers import read_small_whole


class EditConflict(MeniscusError):
    """Raised when what is saved was changed since its page was made; `seen` is the number of the last change now.

    `told` says so in sentences, `changes` are what they tell: each field once, from what it was to what it is.
    """

    def __init__(self, row: Model, told: list[str], changes: list[Change], *, seen: int) -> None:
        told = [_("“{name}” was changed while you had it open, so nothing was saved.", name=row), *told]
        super().__init__(" ".join(told))
        self.told, self.changes = told, changes
        self.row, self.seen = row, seen

    def values(self, row: Model | None = None) -> dict[str, tuple[Any, Any]]:
        """What the columns of a row (the one that was edited, if none is named) held before, and hold now."""
        row = row or self.row
        found = {}
        for change in self.changes:
            column = _column(row, change)
            if column is not None:
                found[column.name] = _stored(column, change.old), _stored(column, change.new)
        return found

    def name_of(self, table: type[Model], number: str) -> str:
        """What a row that was changed or deleted was called."""
        kind = table._meta.label_lower
        called = (change.name for change in self.changes if (change.kind, change.row) == (kind, number))
        return next(called, number)

    def before(self, row: Model) -> Any:
        """The row as it was. The row itself is left alone."""
        was = copy(row)
        was._state = copy(row._state)
        was._state.fields_cache = dict(row._state.fields_cache)
        for name, (old, _new) in self.values(row).items():
            column: Any = row._meta.get_field(name)
            setattr(was, column.attname, old)
        return was


@dataclass(frozen=True, slots=True)
class Edited:
    """A row that a page edits, with the rows that belong to it, by their tables and numbers."""

    table: type[Model]
    number: object
    belonging: tuple[tuple[type[Model], frozenset[str]], ...] = ()

    @classmethod
    def of(cls, row: Model) -> "Edited":
        return cls(row._meta.model, row.pk)

    @property
    def changes(self) -> Q:
        """All that was changed in them. That the row itself was added is no change to it."""
        own = Q(kind=self.table._meta.label_lower, row=str(self.number)) & ~Q(action=ChangeAction.ADDED)
        for table, numbers in self.belonging:
            own |= Q(kind=table._meta.label_lower, row__in=numbers)
        return own


def last_change(table: type[Model], number: object, *, fields: Collection[str] = ()) -> int:
    """The number of the last change to a row, 0 without one. Read it before the row, or a change may slip between."""
    return last_change_of(Edited(table, number), fields=fields)


def last_change_of(edited: Edited, *, fields: Collection[str] = ()) -> int:
    """The same of a row with all that belongs to it."""
    found: int | None = _changes_to(edited, fields).aggregate(last=Max("pk"))["last"]
    return found or 0


def read_version(text: str) -> int:
    """The number that a form was sent with. Whatever is none has seen nothing."""
    return read_small_whole(text) or 0


def hold(row: Model) -> None:
    """Lock a row for this transaction. On SQLite a writing transaction shuts out every other from its start.

    Rows that point to it may still be written: the lock of a plain update, not of a deletion.
    """
    list(row._meta.model._base_manager.select_for_update(no_key=True).filter(pk=row.pk).values_list("pk"))


def refuse_stale(row: Model, *, seen: int | None, fields: Collection[str] = ()) -> None:
    """Raise ChangedMeanwhile when one of the fields (any, if none is named) was changed after `seen`.

    The row must be locked. None is for whoever has looked at nothing: a program that sets what it wants.
    """
    if seen is not None:
        problem = edit_conflict(row, Edited.of(row), seen=seen, fields=fields)
        if problem is not None:
            raise problem


def edit_conflict(
    row: Model, edited: Edited, *, seen: int, fields: Collection[str] = ()
) -> EditConflict | None:
    """The refusal of a save that has not seen the last change, or None."""
    changes = list(_changes_to(edited, fields).filter(pk__gt=seen).select_related("by").order_by("pk"))
    told = all_in_words(_in_sum(changes), Formatter.of(Studio.current())) if changes else []
    if not told:
        return None
    sentences = [words.sentence(within=edited.table) for words in told]
    return EditConflict(row, sentences, [words.change for words in told], seen=changes[-1].pk)


def _changes_to(edited: Edited, fields: Collection[str]) -> QuerySet[Change]:
    found = Change.objects.filter(edited.changes)
    return found.filter(field__in=fields) if fields else found


def _in_sum(changes: Iterable[Change]) -> list[Change]:
    """Each field once: from what it was to what it is now, by whoever changed it last; nothing of what is as it was."""
    found: dict[tuple[str, str, str], Change] = {}
    for change in changes:
        key = (change.kind, change.row, change.field)
        earlier = found.pop(key, change)
        change.old = earlier.old
        found[key] = change
    return [change for change in found.values() if change.old != change.new or not _is_compared(change)]


def _is_compared(change: Change) -> bool:
    """Whether old and new value tell if anything changed: not of a row that came or went, nor of a secret."""
    return bool(change.field) and way_of_writing(apps.get_model(change.kind), change.field) != "secret"


def _column(row: Model, change: Change) -> "Field[Any, Any] | None":
    """The column of this row that a change is told of with both its values."""
    if (change.kind, change.row) != (row._meta.label_lower, str(row.pk)) or not change.field:
        return None
    if way_of_writing(row._meta.model, change.field) in ("secret", "file"):
        return None
    try:
        found = row._meta.get_field(change.field)
    except FieldDoesNotExist:
        return None
    return found if isinstance(found, Field) else None


def _stored(column: "Field[Any, Any]", text: str) -> Any:
    """A recorded value as its column holds it."""
    return None if not text and column.null else column.to_python(text)
