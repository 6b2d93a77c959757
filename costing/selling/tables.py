"""The list of sales."""

from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from costing.selling.queries import SaleLine
from studio.pages.columns import FILE, PAGE, Badge, Column, DayColumn, MoneyColumn, NumberColumn
from studio.pages.tables import Table

RETURNED: Badge = ("stop", _("Returned"))


def _of_kept(row: SaleLine, amount: int) -> int | None:
    """An amount of a sale that was not returned."""
    return None if row.sale.returned_on else amount


class SaleTable(Table[SaleLine]):
    caption = _("Sales")
    file_name = "sales"
    columns = (
        Column("number", _("Piece number"), lambda row: row.sale.piece.label, only_on=FILE),
        Column(
            "piece",
            _("Piece"),
            lambda row: row.sale.piece.title,
            link=lambda row: reverse("costing:piece", args=[row.sale.piece_id]),
            badge=lambda row: RETURNED if row.sale.returned_on else None,
            note=lambda row: row.sale.note,
        ),
        DayColumn("day", _("Day"), lambda row: row.sale.sold_on),
        Column("channel", _("Sales channel"), lambda row: row.sale.channel.name),
        MoneyColumn(
            "price",
            _("Price"),
            lambda row: row.sale.price,
            link=lambda row: reverse("inventory:posting", args=[row.sale.posting_id]),
        ),
        MoneyColumn("tax", _("Tax"), lambda row: row.sale.tax or None),
        MoneyColumn("fees", _("Fees"), lambda row: row.fees or None, only_on=PAGE),
        MoneyColumn("commission", _("Commission"), lambda row: row.sale.commission, only_on=FILE),
        MoneyColumn("card_fee", _("Card fee"), lambda row: row.sale.card_fee, only_on=FILE),
        MoneyColumn("fixed_fee", _("Fixed fee"), lambda row: row.sale.fixed_fee, only_on=FILE),
        MoneyColumn("proceeds", _("Net proceeds"), lambda row: _of_kept(row, row.sale.net_proceeds)),
        MoneyColumn(
            "cost",
            _("Cost"),
            lambda row: _of_kept(row, row.cost),
            link=lambda row: f"{reverse('costing:piece', args=[row.sale.piece_id])}#cost",
        ),
        MoneyColumn("profit", _("Profit"), lambda row: _of_kept(row, row.profit)),
        DayColumn("returned", _("Returned on"), lambda row: row.sale.returned_on, only_on=FILE),
        Column("note", _("Note"), lambda row: row.sale.note, only_on=FILE),
        NumberColumn("posting", _("Posting"), lambda row: row.sale.posting_id, only_on=FILE),
    )

    def row_css(self, row: SaleLine) -> str:
        return "is-low" if row.profit < 0 and not row.sale.returned_on else ""
