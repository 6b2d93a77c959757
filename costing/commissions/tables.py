"""The list of commissions, and the payments of one."""

from django.utils.translation import gettext_lazy as _

from costing.commissions.models import CommissionPayment, CommissionState
from costing.commissions.queries import CommissionFigures
from studio import translation
from studio.pages.addresses import row_address
from studio.pages.columns import Badge, Column, DayColumn, MoneyColumn
from studio.pages.tables import Table

BADGES = {CommissionState.OPEN: "wait", CommissionState.SOLD: "good", CommissionState.CANCELLED: "stop"}


def state_badge(row: CommissionFigures) -> Badge:
    state = CommissionState(row.commission.state)
    return BADGES[state], state.label


class CommissionTable(Table[CommissionFigures]):
    caption = _("Commissions")
    file_name = "commissions"
    columns = (
        Column(
            "wanted",
            _("What is wanted"),
            lambda row: row.commission.title,
            link=lambda row: row_address("costing:commission", row.commission.pk),
            badge=state_badge,
        ),
        Column(
            "contact",
            _("Contact"),
            lambda row: row.commission.contact.name if row.commission.contact else None,
        ),
        DayColumn("agreed", _("Agreed on"), lambda row: row.commission.agreed_on),
        DayColumn("by", _("Wanted by"), lambda row: row.commission.wanted_by),
        MoneyColumn("price", _("Agreed price"), lambda row: row.commission.price, needs_money=False),
        MoneyColumn("paid", _("Paid"), lambda row: row.paid, needs_money=False),
        MoneyColumn("held", _("Held as deposit"), lambda row: row.held or None, needs_money=False),
    )


class PaymentTable(Table[CommissionPayment]):
    caption = _("Payments")
    file_name = "payments"
    columns = (
        DayColumn("on", _("Day"), lambda row: row.on, note=lambda row: row.reason),
        Column(
            "kind",
            _("What"),
            lambda row: row.get_kind_display(),
            badge=lambda row: ("stop", _("Reversed")) if hasattr(row, "reversed_by") else None,
            note=lambda row: translation._("Reversal") if row.reverses else "",
        ),
        Column("channel", _("Sales channel"), lambda row: row.channel.name if row.channel else None),
        MoneyColumn("amount", _("Paid"), lambda row: row.amount, needs_money=False),
        Column(
            "change",
            _("Change"),
            lambda row: translation._("Reverse") if row.is_reversible and row.commission.is_open else None,
            link=lambda row: row_address("costing:commission-payment-reverse", row.pk),
            hidden_words=lambda row: row.pk,
        ),
    )
