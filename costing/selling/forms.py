"""How a piece leaves: sold, given away, written off; and how it comes back."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from costing.pieces.forms.pieces import LONGEST_NOTE
from costing.pricing.models import SalesChannel
from costing.selling.actions.disposals import GIVING
from inventory.ledger.models import Reason
from studio.pages.forms import DayInput, KeyedForm, MoneyField
from studio.translation import _


class SellForm(KeyedForm):
    """A sale. The price is what the buyer paid, tax included."""

    channel = forms.ModelChoiceField(
        label=gettext_lazy("Where it was sold"),
        queryset=SalesChannel.objects.filter(is_active=True),
        empty_label=gettext_lazy("Choose…"),
    )
    price = MoneyField(label=gettext_lazy("Price paid"), example="45.00")
    on = forms.DateField(label=gettext_lazy("Day"), widget=DayInput)
    note = forms.CharField(label=gettext_lazy("Note"), max_length=200, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        label = _("Price paid ({currency}), tax included", currency=self.studio.currency)
        self.fields["price"].label = label


class GiveForm(KeyedForm):
    """A gift, a sample, or kept for own use."""

    reason = forms.ModelChoiceField(
        label=gettext_lazy("Reason"),
        queryset=Reason.objects.filter(kind__in=list(GIVING)),
        empty_label=gettext_lazy("Choose…"),
    )
    market_value = MoneyField(
        label=gettext_lazy("Market value"),
        help_text=gettext_lazy("Recorded alongside cost, because countries differ on which one applies."),
    )
    on = forms.DateField(label=gettext_lazy("Day"), widget=DayInput)
    note = forms.CharField(label=gettext_lazy("Note"), max_length=200, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        label = _("Market value ({currency})", currency=self.studio.currency)
        self.fields["market_value"].label = label


class SpoilForm(KeyedForm):
    """What happened to a piece that cannot be sold any more."""

    reason = forms.ModelChoiceField(
        label=gettext_lazy("What happened"),
        queryset=Reason.objects.filter(kind=Reason.Kind.LOSS),
        empty_label=gettext_lazy("Choose…"),
    )
    on = forms.DateField(label=gettext_lazy("Day"), widget=DayInput)
    note = forms.CharField(label=gettext_lazy("Note"), max_length=200, required=False)


class BackForm(KeyedForm):
    """A piece comes back: a sale returned, or a way out entered by mistake."""

    on = forms.DateField(label=gettext_lazy("Day"), widget=DayInput)
    note = forms.CharField(label=gettext_lazy("Reason"), max_length=LONGEST_NOTE, required=False)
