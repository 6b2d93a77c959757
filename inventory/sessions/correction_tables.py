"""What a correction of a session changes in the time charged to pieces."""

from collections.abc import Sequence
from dataclasses import replace

from django.http import HttpRequest
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from inventory.sessions.work_costs import WorkChange
from studio.pages.columns import Column, MoneyColumn
from studio.pages.tables import Table
from studio.preferences.context import current_studio
from studio.values.money import round_to_minor


class WorkChangeTable(Table[WorkChange]):
    caption = _("Labour and overhead in pieces, before and after")
    columns = (
        Column("name", _("Piece"), lambda row: row.name, link=lambda row: row.address),
        Column("where", _("State"), lambda row: row.where),
        MoneyColumn("before", pgettext_lazy("figure", "Before"), lambda row: row.money_before),
        MoneyColumn("after", pgettext_lazy("figure", "After"), lambda row: row.money_after),
        MoneyColumn(
            "change", pgettext_lazy("figure", "Change"), lambda row: row.money_after - row.money_before
        ),
    )


def work_table(request: HttpRequest, changes: Sequence[WorkChange]) -> WorkChangeTable:
    """One row a piece, its money rounded as it is printed, so that before and change come to after."""
    currency = current_studio(request).currency
    rows = [
        replace(
            each,
            money_before=round_to_minor(each.money_before, currency),
            money_after=round_to_minor(each.money_after, currency),
        )
        for each in changes
    ]
    return WorkChangeTable(rows, request)
