"""The list of alerts, cards on every screen, and what happened to one."""

from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from inventory.alerts.models import AlertEvent
from inventory.alerts.queries import ShownAlert
from studio.pages.columns import Column, DayColumn, MomentColumn
from studio.pages.tables import Table


class AlertTable(Table[ShownAlert]):
    caption = _("Alerts")
    file_name = "alerts"
    columns = (
        Column("kind", _("Kind"), lambda row: row.kind.label),
        Column("name", pgettext_lazy("an alert", "About"), lambda row: row.name),
        Column("reason", _("Reason"), lambda row: row.why),
        Column("state", _("State"), lambda row: row.state.label),
        DayColumn("since", _("Since"), lambda row: row.alert.since),
        DayColumn("raised", _("Raised"), lambda row: timezone.localdate(row.alert.raised_at)),
        DayColumn("until", _("Snoozed until"), lambda row: row.alert.snoozed_until),
    )


class AlertEventTable(Table[AlertEvent]):
    caption = _("History")
    columns = (
        Column("what", _("What happened"), lambda row: row.get_what_display()),
        MomentColumn("at", _("When"), lambda row: row.at),
        Column("by", _("By"), lambda row: row.by.get_username() if row.by else ""),
        DayColumn("until", _("Until"), lambda row: row.until),
    )
