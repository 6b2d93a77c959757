"""The writer of reasons: why material or work left other than by a sale. The ledger names them, so none is deleted."""

from dataclasses import dataclass

from django.utils.text import slugify

from inventory.ledger.models import Reason
from studio.auditing.reference_rows import locked, save_facts
from studio.errors import InputError
from studio.submission import Submission, transaction
from studio.translation import _

LONGEST_CODE = 30


@dataclass(frozen=True, slots=True, kw_only=True)
class ReasonFacts:
    """A reason's name, and which kind of loss or disposal it is."""

    name: str
    kind: str


def save_reason(
    facts: ReasonFacts, *, submission: Submission, reason: Reason | None = None, seen: int | None = None
) -> Reason:
    """Add a reason, or rename one. Its kind stays, and so does its code: postings are summed by them.

    Raises InputError for another kind or a name that is taken, EditConflict.
    """
    with transaction(submission):
        row = Reason(code=_new_code(facts.name)) if reason is None else locked(reason, seen=seen)
        if reason is not None and facts.kind != row.kind:
            raise InputError(_("The kind of “{name}” cannot be changed.", name=row.name), field="kind")
        save_facts(row, facts)
    return row


def _new_code(name: str) -> str:
    """A code made of the name; a number after it where the code is taken."""
    start = slugify(name)[: LONGEST_CODE - 4].strip("-") or "reason"
    taken = set(Reason.objects.filter(code__startswith=start).values_list("code", flat=True))
    return next(
        code for number in range(1, len(taken) + 2) if (code := _numbered(start, number)) not in taken
    )


def _numbered(start: str, number: int) -> str:
    return start if number == 1 else f"{start}-{number}"
