"""The list of webhooks, and the log of one."""

from django.utils.translation import gettext_lazy as _

from inventory.webhooks.events import event_named
from inventory.webhooks.models import Webhook, WebhookMessage
from studio.pages.addresses import row_address
from studio.pages.columns import Badge, Column, MomentColumn, NumberColumn
from studio.pages.tables import Table


def _events(row: Webhook) -> str:
    known = (event_named(name) for name in row.event_names)
    return ", ".join(str(event.label) for event in known if event)


def _state(row: Webhook) -> Badge:
    if row.stopped_at and not row.is_on:
        return "stop", _("Switched off after failures")
    if not row.seed:
        return "wait", _("Needs its secret")
    return ("good", _("On")) if row.is_on else ("note", _("Off"))


class WebhookTable(Table[Webhook]):
    caption = _("Webhooks")
    columns = (
        Column(
            "address",
            _("Address"),
            lambda row: row.host,
            link=lambda row: row_address("inventory:webhook", row.pk),
        ),
        Column("events", _("Sends"), _events),
        Column("status", _("Status"), lambda row: "", badge=_state),
    )


def _fate(row: WebhookMessage) -> Badge:
    if row.sent_at:
        return "good", _("Delivered")
    if row.given_up_at:
        return "stop", _("Given up")
    return "wait", _("Waiting")


class WebhookMessageTable(Table[WebhookMessage]):
    caption = _("Messages")
    columns = (
        MomentColumn("written", _("Written"), lambda row: row.written_at),
        Column("event", _("Event"), lambda row: row.event, note=lambda row: row.subject),
        Column("status", _("Status"), lambda row: "", badge=_fate, note=lambda row: row.problem),
        NumberColumn("attempts", _("Attempts"), lambda row: row.attempts),
        Column("retry", _("Send again"), lambda row: row.pk, template="webhooks/retry.html"),
    )
