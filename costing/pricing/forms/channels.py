"""A sales channel and what it takes, as the owner types them."""

from typing import Any, cast

from django import forms
from django.utils.translation import gettext_lazy

from costing.pricing.models import ChannelTerms, Payment, SalesChannel
from studio.pages.forms import DayInput, MoneyField, PercentField, RowForm

COMMISSION = gettext_lazy("What the gallery or site keeps of the price, such as 35%.")
CARD_RATE = gettext_lazy("What card payment takes of the price, such as 2%.")
FIXED_FEE = gettext_lazy("For each sale, at any price.")
MONTHLY_FEE = gettext_lazy(
    "For each month, even if nothing is sold, such as a listing fee. It is in no price."
)
UNCHANGED = gettext_lazy("Leave blank if unchanged.")


class ChannelForm(RowForm):
    """What a sales channel is called."""

    class Meta:
        model = SalesChannel
        fields = ("name", "payment")
        labels = {"name": gettext_lazy("Name"), "payment": gettext_lazy("How buyers pay")}
        help_texts = {
            "name": gettext_lazy("Such as Market stall, cash or Gallery on commission."),
            "payment": gettext_lazy(
                "Cash and card at the same stall are two channels, for they cost different fees."
            ),
        }


class NewChannelForm(ChannelForm):
    """A new channel, with what it takes from the beginning."""

    commission = PercentField(label=gettext_lazy("Commission"), initial=0, help_text=COMMISSION)
    commission_before_tax = forms.BooleanField(
        label=gettext_lazy("Commission is taken on the price without tax"), initial=True, required=False
    )
    card_rate = PercentField(label=gettext_lazy("Card rate"), initial=0, help_text=CARD_RATE)
    fixed_fee = MoneyField(label=gettext_lazy("Fixed fee"), initial=0, help_text=FIXED_FEE)
    monthly_fee = MoneyField(label=gettext_lazy("Monthly fee"), initial=0, help_text=MONTHLY_FEE)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # Nothing is chosen for her: a gallery left at cash would sell nothing on commission.
        payment = cast("forms.ChoiceField", self.fields["payment"])
        payment.choices = [("", gettext_lazy("Choose…")), *Payment.choices]
        self.initial["payment"] = ""

    @property
    def terms(self) -> ChannelTerms:
        """Its first terms, once the form is valid."""
        return ChannelTerms(**{name: self.cleaned_data[name] for name in ChannelTerms.values})


class TermsForm(RowForm):
    """What a channel takes from a day on. What is left blank stays as it was before. Its channel stays."""

    channel = forms.ModelChoiceField(
        SalesChannel.objects.all(), label=gettext_lazy("Sales channel"), empty_label=gettext_lazy("Choose…")
    )
    holds_from = forms.DateField(
        label=gettext_lazy("From"),
        widget=DayInput,
        required=False,
        help_text=gettext_lazy("The first day. Leave blank for terms that have held from the beginning."),
    )
    commission = PercentField(label=gettext_lazy("Commission"), required=False, help_text=UNCHANGED)
    commission_before_tax = forms.TypedChoiceField(
        label=gettext_lazy("Commission is taken on"),
        required=False,
        choices=[
            ("", gettext_lazy("as before")),
            ("True", gettext_lazy("the price without tax")),
            ("False", gettext_lazy("the whole price")),
        ],
        coerce=lambda text: text == "True",
        empty_value=None,
    )
    card_rate = PercentField(label=gettext_lazy("Card rate"), required=False, help_text=UNCHANGED)
    fixed_fee = MoneyField(label=gettext_lazy("Fixed fee"), required=False, help_text=UNCHANGED)
    monthly_fee = MoneyField(
        label=gettext_lazy("Monthly fee"),
        required=False,
        help_text=gettext_lazy("Leave blank if unchanged. Enter 0 from the day on which it ends."),
    )

    class Meta:
        model = ChannelTerms
        fields = (
            "channel", "holds_from", "commission", "commission_before_tax", "card_rate", "fixed_fee", "monthly_fee",
        )  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["channel"].disabled = self.instance.pk is not None
