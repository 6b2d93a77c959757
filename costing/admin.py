"""Settings pages of the price tag: where work is sold."""

from django.contrib import admin
from django.utils.translation import gettext_lazy

from costing.pricing.models import SalesChannel
from studio.admin_fields import SettingsAdmin, TypedModelForm
from studio.pages.forms import MoneyField, PercentField


class SalesChannelForm(TypedModelForm):
    commission = PercentField(
        initial="0%", help_text=gettext_lazy("What the gallery or site keeps of the price, such as 35%.")
    )
    card_rate = PercentField(
        initial="0%", help_text=gettext_lazy("What card payment takes of the price, such as 1.7%.")
    )
    fixed_fee = MoneyField(initial="0", help_text=gettext_lazy("A fee for each sale, whatever the price."))

    class Meta:
        model = SalesChannel
        exclude: list[str] = []


@admin.register(SalesChannel)
class SalesChannelAdmin(SettingsAdmin):
    form = SalesChannelForm
    fields = ["name", "commission", "commission_before_tax", "card_rate", "fixed_fee", "is_active"]
    list_display = ["name", "is_active"]
    list_filter = ["is_active"]
    search_fields = ["name"]
