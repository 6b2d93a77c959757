"""A sales channel, as the owner types it."""

from dataclasses import fields
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from costing.pricing.actions import ChannelFacts
from costing.pricing.models import SalesChannel
from studio.pages.forms import EditForm, MoneyField, PercentField


class ChannelForm(EditForm):
    """What a sales channel is called and takes."""

    name = forms.CharField(
        label=gettext_lazy("Name"),
        max_length=80,
        help_text=gettext_lazy("Such as Market stall, cash or Gallery on commission."),
    )
    commission = PercentField(
        label=gettext_lazy("Commission"),
        initial=0,
        help_text=gettext_lazy("What the gallery or site keeps of the price, such as 35%."),
    )
    commission_before_tax = forms.BooleanField(
        label=gettext_lazy("Commission is taken on the price without tax"), required=False, initial=True
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

    def __init__(self, *args: Any, channel: SalesChannel | None = None, seen: int = 0, **kwargs: Any) -> None:
        known = (
            {field.name: getattr(channel, field.name) for field in fields(ChannelFacts)} if channel else {}
        )
        super().__init__(*args, initial={"seen": seen} | known, **kwargs)

    def facts(self) -> ChannelFacts:
        """The channel for the action."""
        return ChannelFacts(**{field.name: self.cleaned_data[field.name] for field in fields(ChannelFacts)})
