"""The list of reorder alerts, cards on every screen."""

from dataclasses import dataclass

from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from inventory.reordering.models import Alert
from inventory.reordering.queries import Level
from studio.pages.columns import Column, DayColumn, ShortQuantityColumn
from studio.pages.tables import Table


@dataclass(frozen=True, slots=True)
class AlertRow:
    """An alert with the shelf as it stands now; where a material is no longer followed, as it stood when raised."""

    alert: Alert
    now: Level | None

    @property
    def measure(self) -> str:
        return self.alert.material.measure

    @property
    def stock(self) -> int:
        return self.alert.stock if self.now is None else self.now.stock

    @property
    def on_order(self) -> int:
        return self.alert.on_order if self.now is None else self.now.on_order

    @property
    def level(self) -> int:
        return self.alert.level if self.now is None or self.now.level is None else self.now.level

    @property
    def reason(self) -> str:
        return self.alert.reason if self.now is None else self.now.reason


class AlertTable(Table[AlertRow]):
    caption = _("Alerts")
    file_name = "alerts"
    columns = (
        Column("material", _("Material"), lambda row: row.alert.material.name),
        ShortQuantityColumn("stock", _("In stock"), lambda row: (row.stock, row.measure)),
        ShortQuantityColumn("on_order", _("On order"), lambda row: (row.on_order, row.measure)),
        ShortQuantityColumn("level", _("Reorder at"), lambda row: (row.level, row.measure)),
        DayColumn("raised", _("Raised"), lambda row: timezone.localdate(row.alert.raised_at)),
        Column("reason", _("Reason"), lambda row: row.reason),
    )
