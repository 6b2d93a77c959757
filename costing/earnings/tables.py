"""Earnings by group, and pieces that wait for a buyer."""

from dataclasses import dataclass

from django.utils.translation import gettext_lazy as _

from costing.earnings.queries import Group, Unsold
from costing.pieces.tables import piece_column
from studio.pages.columns import FILE, Badge, Column, DayColumn, HoursColumn, MoneyColumn, NumberColumn
from studio.pages.tables import Table

SLOW: Badge = ("low", _("Slow"))


@dataclass(frozen=True, slots=True)
class GroupRow:
    """One group, and the address of what it is made of."""

    group: Group
    address: str


class EarningsTable(Table[GroupRow]):
    caption = _("What it earned")
    file_name = "earnings"
    # Takings, tax, fees and postage in the order in which they come to the net proceeds.
    columns = (
        Column("group", _("What"), lambda row: row.group.label, link=lambda row: row.address),
        NumberColumn("count", _("Sold"), lambda row: row.group.total.count),
        MoneyColumn("takings", _("Takings"), lambda row: row.group.total.paid),
        MoneyColumn("tax", _("Tax"), lambda row: row.group.total.tax or None),
        MoneyColumn("fees", _("Fees and postage"), lambda row: row.group.total.selling_costs or None),
        MoneyColumn("monthly", _("Monthly fees"), lambda row: row.group.total.monthly_fees or None),
        MoneyColumn(
            "proceeds", _("Net proceeds"), lambda row: row.group.total.net_proceeds, term="net-proceeds"
        ),
        MoneyColumn("cost", _("Cost"), lambda row: row.group.total.cost),
        MoneyColumn("profit", _("Profit"), lambda row: row.group.total.profit),
        HoursColumn("hours", _("Hours worked"), lambda row: row.group.total.seconds or None),
        MoneyColumn("per_hour", _("Profit per hour"), lambda row: row.group.hourly.profit_per_hour),
    )

    def money_css(self, row: GroupRow) -> str:
        return "is-low" if row.group.total.profit < 0 else ""


class WaitingTable(Table[Unsold]):
    caption = _("For sale, the longest first")
    file_name = "slow-sellers"
    columns = (
        piece_column("piece"),
        NumberColumn(
            "days", _("Days for sale"), lambda row: row.days, badge=lambda row: SLOW if row.is_slow else None
        ),
        DayColumn("since", _("Since"), lambda row: row.since, only_on=FILE),
        Column("technique", _("Technique"), lambda row: row.piece.technique, css="bare"),
        MoneyColumn("price", _("Asking price"), lambda row: row.piece.price, needs_money=False),
        MoneyColumn("cost", _("Cost"), lambda row: row.cost),
    )

    def row_css(self, row: Unsold) -> str:
        return "is-low" if row.is_slow else ""
