"""The year end's lines, what was owned on a day, and what may have to be written down."""

from django.utils.translation import gettext_lazy as _

from costing.reports.stages import Owned
from costing.reports.statement import STAGES, StatementLine
from studio.pages.addresses import row_address
from studio.pages.columns import FILE, Column, MoneyColumn, TenthsColumn, UnitCostColumn
from studio.pages.tables import Table


class StatementTable(Table[StatementLine]):
    caption = _("Year end")
    file_name = "year-end"
    columns = (
        Column("part", _("Part"), lambda row: row.part, only_on=FILE),
        Column("line", _("Line"), lambda row: row.label, link=lambda row: row.url, note=lambda row: row.note),
        MoneyColumn("amount", _("Value"), lambda row: row.money),
    )

    def row_css(self, row: StatementLine) -> str:
        return "" if row.kind == "line" else "total"


def owned_name(row: Owned) -> str:
    """What an owned thing is called."""
    if row.piece:
        return row.piece.title
    if row.poured:
        return f"{row.poured.label}, {row.poured.session}"
    return str(row.lot.material) if row.lot else ""


def _address(row: Owned) -> str:
    if row.piece:
        return row_address("costing:piece", row.piece.pk)
    if row.pour:
        return row_address("inventory:pour", row.pour)
    return row_address("inventory:lot", row.lot.pk) if row.lot else ""


class OwnedTable(Table[Owned]):
    caption = _("What was owned")
    file_name = "owned"
    columns = (
        Column(
            "name", _("What"), owned_name, link=_address, note=lambda row: row.lot.label if row.lot else ""
        ),
        Column("lot", _("Lot"), lambda row: row.lot.label if row.lot else "", only_on=FILE),
        Column("stage", _("Stage"), lambda row: str(STAGES[row.stage]), css="bare"),
        TenthsColumn(
            "quantity",
            _("Quantity"),
            lambda row: (row.quantity, row.lot.material.measure) if row.lot else None,
        ),
        UnitCostColumn(
            "unit_cost",
            _("Unit cost"),
            lambda row: (row.money, row.quantity, row.lot.material.measure) if row.lot else None,
        ),
        MoneyColumn("money", _("Cost"), lambda row: row.money, css="number beside"),
    )
