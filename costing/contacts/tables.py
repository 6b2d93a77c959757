"""The list of contacts, and of what there is between the studio and one of them."""

from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from costing.contacts.models import Contact
from costing.contacts.queries import Dealing
from studio.pages.addresses import row_address
from studio.pages.columns import Column, DayColumn, MoneyColumn
from studio.pages.tables import Table


class ContactTable(Table[Contact]):
    caption = _("Contacts")
    columns = (
        Column(
            "name", _("Name"), lambda row: row.name, link=lambda row: row_address("costing:contact", row.pk)
        ),
        Column("reach", _("How to reach"), lambda row: ", ".join(row.reach.splitlines())),
        Column("note", _("Note"), lambda row: " ".join(row.note.splitlines())),
    )


def _address(row: Dealing) -> str:
    if row.commission is not None:
        return reverse("costing:commission", args=[row.commission[0]])
    return row_address("costing:piece", row.piece.pk) if row.piece else ""


class DealingTable(Table[Dealing]):
    caption = _("Pieces bought, ordered, reserved and lent")
    file_name = "contact"
    columns = (
        Column("piece", _("Piece"), lambda row: row.title, link=_address),
        Column("what", _("What"), lambda row: row.what),
        DayColumn("on", _("Day"), lambda row: row.on),
        DayColumn("until", _("Until"), lambda row: row.until),
        MoneyColumn("price", _("Price"), lambda row: row.price),
        Column("note", _("Note"), lambda row: row.note),
    )
