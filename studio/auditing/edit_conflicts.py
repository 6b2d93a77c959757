"""No update is lost: a save that has not seen the last change to its row is refused, and nothing is written.

A page that edits a row carries the number of the last recorded change that it has seen, read before the row itself.
The save locks the row and then looks for later ones. Changes are recorded while their row is locked, so the numbers
of one row's changes rise in the order in which they were made.
The refused page tells of the changes and carries their last number: saving again is a decision.
"""

from collections.abc import Collection, Sequence

from django.db.models import Model

from studio.auditing.queries import changes_since, last_change_number
from studio.auditing.wording import ChangeWords, all_in_words
from studio.errors import MeniscusError
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.translation import _
from studio.values.numbers import read_small_whole


class EditConflict(MeniscusError):
    """Raised when what is saved was changed since its page was made.

    `row` is what was to be saved, `changes` are each changed field once, from what the page showed to what it is now.
    `seen` is the number of the last of them, for the page that tells of them. `sentences` says both in words.
    """

    is_conflict = True

    def __init__(self, row: Model, changes: Sequence[ChangeWords], *, seen: int) -> None:
        self.row, self.changes, self.seen = row, changes, seen
        self.sentences = [
            _("“{name}” was changed while you were editing, so nothing was saved.", name=row),
            *(change.sentence() for change in changes),
        ]
        super().__init__(" ".join(self.sentences))


def read_change_number(text: str) -> int:
    """The number that a form was sent with. Anything that is no number has seen nothing."""
    return read_small_whole(text) or 0


def lock_row(row: Model) -> None:
    """Lock a row for this transaction. On SQLite a writing transaction shuts out every other from its start.

    Rows that point to it may still be written: the lock of a plain update, not of a deletion.
    """
    list(row._meta.model._base_manager.select_for_update(no_key=True).filter(pk=row.pk).values_list("pk"))


def refuse_stale(row: Model, *, seen: int | None, fields: Collection[str] = ()) -> None:
    """Raise EditConflict when one of the fields (any, if none is named) was changed after `seen`.

    The row must be locked. None is for a caller who has looked at nothing: a program that sets what it wants.
    """
    if seen is None:
        return
    changes = changes_since(row._meta.model, row.pk, seen, fields=fields)
    if changes:
        words = all_in_words(changes, Formatter.of(Studio.current()))
        last = last_change_number(row._meta.model, row.pk, fields=fields)
        raise EditConflict(row, words, seen=last)
