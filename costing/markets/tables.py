"""The list of market days, what one sold by kind, and what became of the pieces packed for it."""

from django.utils.translation import gettext_lazy as _

from costing.markets.models import CashCount
from costing.markets.queries import KindRow, MarketRow
from costing.pieces.tables import piece_column
from costing.selling.queries import SoldPiece
from costing.selling.tables import piece_returned
from studio import translation
from studio.pages.addresses import row_address
from studio.pages.columns import FILE, Column, DayColumn, MomentColumn, MoneyColumn, NumberColumn
from studio.pages.tables import Table


def _held(row: MarketRow, figure: int | None) -> int | None:
    """A figure of a market day that has begun."""
    return None if row.is_ahead else figure


class MarketTable(Table[MarketRow]):
    """Market days beside one another."""

    caption = _("Market days")
    file_name = "market-days"
    columns = (
        Column(
            "name",
            _("Market day"),
            lambda row: row.market.name,
            link=lambda row: row_address("costing:market", row.market.pk),
            badge=lambda row: ("wait", _("Planned")) if row.is_ahead else None,
            note=lambda row: row.market.place,
        ),
        DayColumn("day", _("Day"), lambda row: row.market.held_on, css="day bare"),
        NumberColumn("sold", _("Sold"), lambda row: _held(row, row.result.sold)),
        MoneyColumn("cash", _("Cash"), lambda row: row.result.cash, only_on=FILE),
        MoneyColumn("card", _("Card"), lambda row: row.result.card, only_on=FILE),
        MoneyColumn("takings", _("Takings"), lambda row: _held(row, row.result.takings)),
        MoneyColumn("fees", _("Fees"), lambda row: row.result.fees, only_on=FILE),
        MoneyColumn(
            "contribution",
            _("Contribution"),
            lambda row: _held(row, row.result.contribution),
            term="contribution",
        ),
        MoneyColumn("fixed", _("Costs of the day"), lambda row: row.result.fixed),
        MoneyColumn("profit", _("Profit"), lambda row: _held(row, row.result.profit)),
        MoneyColumn("per_hour", _("Per hour"), lambda row: _held(row, row.result.per_hour)),
    )

    def money_css(self, row: MarketRow) -> str:
        return "is-low" if row.result.profit < 0 and not row.is_ahead else ""


class MarketSaleTable(Table[SoldPiece]):
    """The sales of one market day."""

    caption = _("Sales of the day")
    columns = (
        piece_column("piece", badge=piece_returned),
        Column(
            "receipt",
            _("Receipt"),
            lambda row: row.sale.number or translation._("Print"),
            link=lambda row: row_address("costing:sale-receipt", row.sale.pk),
        ),
        Column("channel", _("Sales channel"), lambda row: row.sale.channel.name),
        MoneyColumn("price", _("Price"), lambda row: row.line.paid - row.refunded.amount),
        MoneyColumn("fees", _("Fees"), lambda row: row.fees or None),
        MoneyColumn("cost", _("Cost"), lambda row: row.cost or None),
        MoneyColumn("contribution", _("Contribution"), lambda row: row.profit),
    )


class KindTable(Table[KindRow]):
    """What a market day sold by kind, and how many of each break even."""

    caption = _("Break-even by kind of piece")
    columns = (
        Column("kind", _("Kind"), lambda row: row.kind.name),
        NumberColumn("sold", _("Sold"), lambda row: row.kind.count),
        MoneyColumn("takings", _("Takings"), lambda row: row.kind.takings),
        MoneyColumn("margin", _("Contribution each"), lambda row: row.kind.margin),
        NumberColumn(
            "together", _("To break even, sold like this"), lambda row: row.together, needs_money=True
        ),
        NumberColumn("alone", _("Or this kind alone"), lambda row: row.alone, needs_money=True),
    )


class CashCountTable(Table[CashCount]):
    """Every count of one till, the latest first."""

    caption = _("Cash counts")
    columns = (
        MomentColumn("at", _("Counted"), lambda row: row.counted_at, note=lambda row: row.note),
        Column("by", _("By"), lambda row: row.recorded_by.get_username() if row.recorded_by else ""),
        MoneyColumn("paid_out", _("Paid out"), lambda row: row.paid_out or None),
        MoneyColumn("expected", _("Expected"), lambda row: row.expected),
        MoneyColumn("counted", _("Counted"), lambda row: row.counted),
        MoneyColumn("difference", _("Difference"), lambda row: row.difference),
    )
