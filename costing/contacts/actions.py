"""Writers of contacts. One that is erased leaves no trace of who it was; the books stay as they are."""

from collections.abc import Callable

from costing.contacts.models import Contact
from studio.auditing.reference_rows import locked, refuse_invalid
from studio.submission import Submission, transaction

_when_erased: list[Callable[[Contact], None]] = []


def when_erased(clear: Callable[[Contact], None]) -> None:
    """Register what is cleared besides, such as notes that were written of a contact, before it goes."""
    if clear not in _when_erased:
        _when_erased.append(clear)


def add_contact(*, name: str, submission: Submission, reach: str = "", note: str = "") -> Contact:
    """Add a buyer or a gallery. Raises InputError naming the column."""
    with transaction(submission):
        contact = Contact(name=name, reach=reach, note=note)
        refuse_invalid(contact)
        contact.save(force_insert=True)
        return contact


def erase_contact(*, contact: Contact, submission: Submission, seen: int | None = None) -> None:
    """Erase a contact on request: its row, the notes about it, and every reference to it. Raises EditConflict.

    Sales, reservations and loans stay, without saying to whom.
    """
    with transaction(submission):
        now = locked(contact, seen=seen)
        for clear in _when_erased:
            clear(now)
        now.delete()
