"""The writer of reasons: why material or work left other than by a sale. The ledger names them, so none is deleted."""

from django.utils.text import slugify

from inventory.ledger.models import Reason
from studio.auditing.reference_rows import locked, save_row
from studio.errors import InputError
from studio.submission import Submission, transaction
from studio.translation import _

LONGEST_CODE = 30


def save_reason(reason: Reason, *, submission: Submission, seen: int | None = None) -> Reason:
    """Add a reason, or rename one. Its kind stays, and so does its code: postings are summed by them.

    Raises InputError for another kind or a name that is taken, EditConflict.
    """
    with transaction(submission):
        if reason.pk is None:
            reason.code = _new_code(reason.name)
        elif locked(reason, seen=seen).kind != reason.kind:
            raise InputError(_("The kind of “{name}” cannot be changed.", name=reason.name), field="kind")
        return save_row(reason, submission=submission)


def _new_code(name: str) -> str:
    """A code made of the name; a number after it where the code is taken."""
    start = slugify(name)[: LONGEST_CODE - 4].strip("-") or "reason"
    taken = set(Reason.objects.filter(code__startswith=start).values_list("code", flat=True))
    codes = [start, *(f"{start}-{number}" for number in range(2, len(taken) + 2))]
    return next(code for code in codes if code not in taken)
