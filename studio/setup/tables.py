"""The list of the studio's rates."""

from django.utils.translation import gettext_lazy as _

from studio import translation
from studio.pages.addresses import row_address
from studio.pages.columns import FirstDayColumn, MoneyColumn, PercentColumn
from studio.pages.tables import Table
from studio.preferences.models import Rates


class RatesTable(Table[Rates]):
    caption = _("Rates, the newest first")
    columns = (
        FirstDayColumn(
            "holds_from",
            _("From"),
            lambda row: row.holds_from or _("The beginning"),
            link=lambda row: row_address("rates-edit", row.pk),
            hidden_words=lambda row: translation._("change these rates"),
        ),
        MoneyColumn("wage", _("Hourly rate"), lambda row: row.wage_per_hour),
        MoneyColumn("overhead", _("Overhead per hour"), lambda row: row.overhead_per_hour),
        PercentColumn("tax", _("Tax in prices"), lambda row: row.tax_rate),
    )
