"""What a contact bought."""

from costing.contacts.models import Contact
from costing.contacts.queries import Dealing
from costing.selling.models import Sale, SaleLine
from studio.auditing.writing import set_all
from studio.translation import _


def purchases(contact: Contact) -> list[Dealing]:
    lines = SaleLine.objects.filter(sale__buyer=contact).select_related("sale", "piece")
    return [
        Dealing(_("Bought"), line.piece, line.sale.sold_on, price=line.price, note=line.sale.note)
        for line in lines
    ]


def clear_notes(contact: Contact) -> None:
    """Erase what was noted beside the sales to a contact; the sales stay, without a buyer."""
    set_all(Sale.objects.filter(buyer=contact), buyer=None, note="")
