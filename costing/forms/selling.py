"""How a piece leaves: sold, given away, spoilt; and how it comes back."""

from typing import Any

from django import forms

from costing.forms.pieces import LONGEST_NOTE
from costing.models import SellingRoute
from costing.ways_out import GIVING
from inventory.models import Cause
from studio.forms import DayInput, KeyedForm, MoneyField


class SellForm(KeyedForm):
    """A sale. The price is what the buyer paid, tax included."""

    route = forms.ModelChoiceField(
        label="Where it was sold", queryset=SellingRoute.objects.filter(is_active=True), empty_label="Choose…"
    )
    price = MoneyField(label="Price paid", example="45.00")
    on = forms.DateField(label="On", widget=DayInput)
    note = forms.CharField(max_length=200, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["price"].label = f"Price paid ({self.studio.currency}), tax included"


class GiveForm(KeyedForm):
    """A gift, a sample, or kept for own use."""

    cause = forms.ModelChoiceField(
        label="Why it leaves", queryset=Cause.objects.filter(kind__in=list(GIVING)), empty_label="Choose…"
    )
    market_value = MoneyField(
        label="What it would have sold for",
        help_text="Kept beside its cost: countries differ in which of the two counts.",
    )
    on = forms.DateField(label="On", widget=DayInput)
    note = forms.CharField(max_length=200, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["market_value"].label = f"What it would have sold for ({self.studio.currency})"


class SpoilForm(KeyedForm):
    """What happened to a piece that cannot be sold any more."""

    cause = forms.ModelChoiceField(
        label="What happened", queryset=Cause.objects.filter(kind=Cause.Kind.LOSS), empty_label="Choose…"
    )
    on = forms.DateField(label="On", widget=DayInput)
    note = forms.CharField(max_length=200, required=False)


class BackForm(KeyedForm):
    """A piece comes back: a sale returned, or a way out entered by mistake."""

    on = forms.DateField(label="On", widget=DayInput)
    note = forms.CharField(label="Why", max_length=LONGEST_NOTE, required=False)
