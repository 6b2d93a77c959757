"""The studio's own settings: changed by the owner, as a whole.

The currency cannot be changed once anything has been recorded in it; the floors that record register what tells so.
"""

from collections.abc import Callable
from typing import IO

from studio.auditing.edit_conflicts import refuse_stale
from studio.auditing.reference_rows import save_row
from studio.errors import InputError
from studio.photos import develop, remove_after_commit
from studio.preferences.models import Studio
from studio.submission import Submission, transaction
from studio.translation import _

_records: list[Callable[[], bool]] = []


def keep_currency_once(is_recorded: Callable[[], bool]) -> None:
    """Register what tells that amounts have been recorded, so that their currency can no longer be changed."""
    if is_recorded not in _records:
        _records.append(is_recorded)


def is_currency_fixed() -> bool:
    """Whether anything has been recorded in the studio's currency."""
    return any(is_recorded() for is_recorded in _records)


def change_settings(studio: Studio, *, submission: Submission, seen: int | None = None) -> Studio:
    """Save the studio's settings. Raises InputError naming the field, EditConflict."""
    with transaction(submission):
        if studio.currency != Studio.current().currency and is_currency_fixed():
            raise InputError(_("It cannot be changed once anything has been recorded."), field="currency")
        studio.confirmed_at = studio.confirmed_at or submission.at
        return save_row(studio, submission=submission, seen=seen)


def store_logo(*, upload: IO[bytes] | None, submission: Submission, seen: int | None = None) -> Studio:
    """Put a logo on every paper, in place of the one before; without an upload there is none any more.

    Raises PhotoError, and EditConflict when the logo to be replaced is not the one that was seen.
    """
    developed = develop(upload) if upload else None
    with transaction(submission):
        studio = Studio.objects.select_for_update().get(pk=1)
        refuse_stale(studio, seen=seen, fields=["logo"])
        remove_after_commit([studio.logo])
        studio.logo = ""
        if developed:
            studio.logo.save(developed.name, developed.thumbnail, save=False)
        studio.save(update_fields=["logo"])
    return studio
