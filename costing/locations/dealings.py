"""What was lent to a contact and reserved for it."""

from costing.contacts.models import Contact
from costing.contacts.queries import Dealing
from studio.translation import _


def loans_and_reservations(contact: Contact) -> list[Dealing]:
    loans = contact.loans.select_related("piece")
    reservations = contact.reservations.select_related("step__piece")
    return [
        *(Dealing(_("Lent"), row.piece, row.on, row.until, note=row.note) for row in loans),
        *(
            Dealing(_("Reserved"), row.step.piece, row.step.on, row.until, note=row.note)
            for row in reservations
        ),
    ]
