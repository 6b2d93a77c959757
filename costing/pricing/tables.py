"""The list of sales channels, and of what one of them takes."""

from django.utils.translation import gettext_lazy as _

from costing.pricing.models import ChannelTerms
from costing.pricing.terms import TermsOn
from studio import translation
from studio.pages.addresses import row_address
from studio.pages.columns import Column, DayColumn, FirstDayColumn, MoneyColumn, PercentColumn
from studio.pages.tables import Table

ACTIVE, DEACTIVATED = ("good", _("Active")), ("stop", _("Deactivated"))
BASES = {None: "", True: _("price without tax"), False: _("whole price")}


class ChannelTable(Table[TermsOn]):
    caption = _("Sales channels")
    columns = (
        Column(
            "name",
            _("Name"),
            lambda row: row.channel.name,
            link=lambda row: row_address("costing:channel-edit", row.channel.pk),
        ),
        Column("payment", _("Payment"), lambda row: row.channel.get_payment_display()),
        PercentColumn("commission", _("Commission"), lambda row: row.commission),
        PercentColumn("card_rate", _("Card rate"), lambda row: row.card_rate),
        MoneyColumn("fixed_fee", _("Fixed fee"), lambda row: row.fixed_fee),
        MoneyColumn("monthly_fee", _("Monthly fee"), lambda row: row.monthly_fee),
        DayColumn("since", _("Since"), lambda row: row.since),
        Column(
            "status",
            _("Status"),
            lambda row: None,
            badge=lambda row: ACTIVE if row.channel.is_active else DEACTIVATED,
        ),
    )


class TermsTable(Table[ChannelTerms]):
    caption = _("What it takes, the newest first")
    columns = (
        FirstDayColumn(
            "holds_from",
            _("From"),
            lambda row: row.holds_from or _("The beginning"),
            link=lambda row: row_address("costing:terms-edit", row.pk),
            hidden_words=lambda row: translation._("change these terms"),
        ),
        PercentColumn("commission", _("Commission"), lambda row: row.commission),
        Column("basis", _("Commission on"), lambda row: BASES[row.commission_before_tax]),
        PercentColumn("card_rate", _("Card rate"), lambda row: row.card_rate),
        MoneyColumn("fixed_fee", _("Fixed fee"), lambda row: row.fixed_fee),
        MoneyColumn("monthly_fee", _("Monthly fee"), lambda row: row.monthly_fee),
    )
