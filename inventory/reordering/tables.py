"""The list of reorder alerts, cards on every screen."""

from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from inventory.reordering.queries import StandingAlert
from studio.pages.columns import Column, DayColumn, ShortQuantityColumn
from studio.pages.tables import Table


class AlertTable(Table[StandingAlert]):
    caption = _("Alerts")
    file_name = "alerts"
    columns = (
        Column("material", _("Material"), lambda row: row.alert.material.name),
        ShortQuantityColumn("stock", _("In stock"), lambda row: (row.now.stock, row.now.material.measure)),
        ShortQuantityColumn(
            "on_order", _("On order"), lambda row: (row.now.on_order, row.now.material.measure)
        ),
        ShortQuantityColumn(
            "reserved", _("Reserved"), lambda row: (row.now.reserved, row.now.material.measure)
        ),
        ShortQuantityColumn("level", _("Reorder at"), lambda row: (row.now.level, row.now.material.measure)),
        DayColumn("raised", _("Raised"), lambda row: timezone.localdate(row.alert.raised_at)),
        Column("reason", _("Reason"), lambda row: row.now.reason),
    )
