"""What later rooms have checked when the books are checked: they register it when the app starts.

A check reads one database and tells the tally what it looked at and what it found broken.
"""

from collections.abc import Callable

from inventory.ledger.findings import Tally
from inventory.ledger.models import Posting, PostingKind
from studio.translation import _

Check = Callable[[str, Tally], None]

_checks: list[Check] = []


def register(check: Check) -> None:
    """Run this check after the ledger's own, with the name of the database and the tally."""
    if check not in _checks:
        _checks.append(check)


def registered() -> tuple[Check, ...]:
    return tuple(_checks)


def every_posting_has_its(document: str, kind: PostingKind, *, missing: str) -> Check:
    """A check that no posting of a kind has lost its document, by the document's name on the posting."""

    def check(using: str, tally: Tally) -> None:
        of_kind = Posting.objects.using(using).filter(kind=kind)
        tally.checked["papers"] += of_kind.count()
        for number in of_kind.filter(**{f"{document}__isnull": True}).values_list("number", flat=True):
            tally.tell_posting("papers", number, _(missing))

    return check
