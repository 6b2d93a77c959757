"""The list of sales, and the pieces of one."""

from django.urls import reverse
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from costing.pieces.tables import piece_column
from costing.selling.queries import SaleFigures, SoldPiece
from studio import translation
from studio.pages.addresses import row_address
from studio.pages.columns import FILE, PAGE, Badge, Column, DayColumn, MoneyColumn, NumberColumn
from studio.pages.tables import Table

RETURNED: Badge = ("stop", _("Returned"))
CORRECTED: Badge = ("stop", pgettext_lazy("state of a sale", "Corrected"))
PARTLY: Badge = ("low", _("Partly returned"))


def _returned(row: SaleFigures) -> Badge | None:
    if row.corrected_by is not None:
        return CORRECTED
    if not row.returned:
        return None
    return RETURNED if row.returned == len(row.lines) else PARTLY


def piece_returned(row: SoldPiece) -> Badge | None:
    if row.is_corrected:
        return CORRECTED
    return RETURNED if row.line.returned_on else None


class SaleTable(Table[SaleFigures]):
    caption = _("Sales")
    file_name = "sales"
    columns = (
        NumberColumn("number", _("Receipt"), lambda row: row.sale.number, only_on=FILE),
        Column(
            "piece",
            _("Pieces"),
            lambda row: row.titles,
            link=lambda row: row_address("costing:sale", row.sale.pk),
            badge=_returned,
            note=lambda row: row.sale.note,
        ),
        Column(
            "canvases",
            _("Piece numbers"),
            lambda row: ", ".join(each.piece.label for each in row.lines),
            only_on=FILE,
        ),
        DayColumn("day", _("Day"), lambda row: row.sale.sold_on, css="day bare"),
        Column("channel", _("Sales channel"), lambda row: row.sale.channel.name, css="bare"),
        MoneyColumn("price", _("Paid"), lambda row: row.total.paid, only_on=PAGE),
        MoneyColumn("prices", _("Price"), lambda row: row.total.prices, only_on=FILE),
        MoneyColumn("postage", _("Postage charged"), lambda row: row.total.postage, only_on=FILE),
        MoneyColumn("refunds", _("Refunded"), lambda row: row.total.refunds, only_on=FILE),
        MoneyColumn("tax", _("Tax"), lambda row: row.total.tax or None),
        MoneyColumn("fees", _("Fees and postage"), lambda row: row.total.selling_costs or None, only_on=PAGE),
        MoneyColumn("kept", _("Fees"), lambda row: row.total.fees, only_on=FILE),
        MoneyColumn("postage_paid", _("Postage paid"), lambda row: row.total.postage_paid, only_on=FILE),
        MoneyColumn("proceeds", _("Net proceeds"), lambda row: row.total.net_proceeds, term="net-proceeds"),
        MoneyColumn("cost", _("Cost"), lambda row: row.total.cost or None),
        MoneyColumn("profit", _("Profit"), lambda row: row.total.profit),
        Column("note", _("Note"), lambda row: row.sale.note, only_on=FILE),
        NumberColumn("sale", _("Sale"), lambda row: row.sale.pk, only_on=FILE),
    )

    def money_css(self, row: SaleFigures) -> str:
        return "is-low" if row.total.profit < 0 else ""


class SaleLineTable(Table[SoldPiece]):
    caption = _("Pieces of this sale")
    columns = (
        piece_column("piece", badge=piece_returned),
        MoneyColumn("full", _("Before discount"), lambda row: row.line.full_price, needs_money=False),
        MoneyColumn("discounted", _("Price"), lambda row: row.line.price, needs_money=False),
        MoneyColumn("price", _("Paid"), lambda row: row.line.paid - row.refunded.amount),
        MoneyColumn("tax", _("Tax"), lambda row: row.tax or None),
        MoneyColumn("fees", _("Fees and postage"), lambda row: row.fees + row.line.postage_paid or None),
        MoneyColumn("proceeds", _("Net proceeds"), lambda row: row.net_proceeds),
        MoneyColumn(
            "cost",
            _("Cost"),
            lambda row: row.cost or None,
            link=lambda row: f"{reverse('costing:piece', args=[row.line.piece_id])}#cost",
        ),
        MoneyColumn("profit", _("Profit"), lambda row: row.profit),
        Column(
            "back",
            _("Actions"),
            lambda row: None if row.line.returned_on else translation._("Return"),
            link=lambda row: row_address("costing:sale-return", row.line.pk),
            hidden_words=lambda row: row.piece.title,
        ),
    )

    def money_css(self, row: SoldPiece) -> str:
        return "is-low" if row.profit < 0 else ""
