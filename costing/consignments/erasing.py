"""What issued papers say of a contact that is erased."""

from costing.consignments.models import Consignment
from costing.consignments.note_paper import NOTE
from costing.contacts.models import Contact
from costing.selling.documents import CREDIT_NOTE, RECEIPT
from costing.selling.models import Refund, Sale
from studio.issued.actions import erase_addressees


def clear_issued(contact: Contact) -> None:
    """Empty whom receipts, credit notes and consignment notes went to; before the sales forget who bought."""
    sales = Sale.objects.filter(buyer=contact)
    refunds = Refund.objects.filter(line__sale__in=sales)
    given = Consignment.objects.filter(gallery__contact=contact)
    for kind, rows in ((RECEIPT, sales), (CREDIT_NOTE, refunds), (NOTE, given)):
        erase_addressees(kind.code, list(rows.values_list("pk", flat=True)))
