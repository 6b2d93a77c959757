"""A sales channel, as the owner types it."""

from django.utils.translation import gettext_lazy

from costing.pricing.models import SalesChannel
from studio.pages.forms import MoneyField, PercentField, RowForm


class ChannelForm(RowForm):
    """What a sales channel is called and takes."""

    commission = PercentField(
        label=gettext_lazy("Commission"),
        initial=0,
        help_text=gettext_lazy("What the gallery or site keeps of the price, such as 35%."),
    )
    card_rate = PercentField(
        label=gettext_lazy("Card rate"),
        initial=0,
        help_text=gettext_lazy("What card payment takes of the price, such as 1.7%."),
    )
    fixed_fee = MoneyField(
        label=gettext_lazy("Fixed fee"),
        initial=0,
        help_text=gettext_lazy("For each sale, whatever the price."),
    )

    class Meta:
        model = SalesChannel
        fields = ("name", "commission", "commission_before_tax", "card_rate", "fixed_fee")
        labels = {
            "name": gettext_lazy("Name"),
            "commission_before_tax": gettext_lazy("Commission is taken on the price without tax"),
        }
        help_texts = {
            "name": gettext_lazy("Such as Market stall, cash or Gallery on commission."),
            "commission_before_tax": "",
        }
