"""The list of years of overhead, and the lines of one."""

from django.utils.translation import gettext_lazy as _

from costing.overhead.models import OverheadLine
from costing.overhead.queries import YearFigures
from studio import translation
from studio.pages.addresses import row_address
from studio.pages.columns import Badge, Column, MoneyColumn
from studio.pages.tables import Table


def outcome(row: YearFigures) -> Badge | None:
    """Whether a year's overhead was absorbed; None while it is not known what was paid."""
    if row.absorption is None:
        return None
    if row.absorption.is_under:
        return "low", _("Under-absorbed")
    return ("note", _("Over-absorbed")) if row.absorption.is_over else ("good", _("Fully absorbed"))


class YearTable(Table[YearFigures]):
    caption = _("Overhead by year")
    columns = (
        Column(
            "year",
            _("Year"),
            lambda row: str(row.year),
            link=lambda row: row_address("costing:overhead-year", row.year.pk),
            badge=outcome,
        ),
        MoneyColumn("estimated", _("Estimated"), lambda row: row.estimated),
        Column("hours", _("Estimated hours"), lambda row: row.year.hours, css="number"),
        MoneyColumn("rate", _("Overhead per hour"), lambda row: row.rate),
        MoneyColumn("paid", _("Paid"), lambda row: row.paid),
        MoneyColumn("absorbed", _("Absorbed"), lambda row: row.absorbed),
        MoneyColumn(
            "difference", _("Difference"), lambda row: row.absorption.amount if row.absorption else None
        ),
    )


class LineTable(Table[OverheadLine]):
    caption = _("Overhead, line by line")
    columns = (
        Column(
            "name",
            _("Name"),
            lambda row: row.name,
            link=lambda row: row_address("costing:overhead-line-edit", row.pk),
            hidden_words=lambda row: translation._("change this line"),
        ),
        MoneyColumn("estimated", _("Estimated"), lambda row: row.estimated),
        MoneyColumn("paid", _("Paid"), lambda row: row.paid),
    )
