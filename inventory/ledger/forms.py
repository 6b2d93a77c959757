"""Reversing a posting; the reasons for losses and other disposals; costing method; closing a period."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from inventory.ledger.models import CostingMethod, Reason, ReasonKind
from studio.pages.forms import DayInput, EditForm, KeyedForm, RowForm


class ReversalForm(KeyedForm):
    reason = forms.CharField(
        label=gettext_lazy("Reason"),
        max_length=300,
        help_text=gettext_lazy("It stays in the ledger beside the original, which is never erased."),
    )


class ReasonForm(RowForm):
    """A reason's name, and its kind while it is new."""

    kind = forms.ChoiceField(
        label=gettext_lazy("Kind"),
        choices=ReasonKind.choices,
        help_text=gettext_lazy("Reports add reasons up by kind, so it cannot be changed later."),
    )

    class Meta:
        model = Reason
        fields = ("name", "kind")
        labels = {"name": gettext_lazy("Name")}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["kind"].disabled = self.instance.pk is not None


class CostingMethodForm(EditForm):
    """How cost follows use."""

    costing_method = forms.ChoiceField(
        label=gettext_lazy("Costing method"), choices=CostingMethod.choices, widget=forms.RadioSelect
    )


class ClosingForm(EditForm):
    """The last day of the period to close."""

    day = forms.DateField(
        label=gettext_lazy("Close through"),
        widget=DayInput,
        help_text=gettext_lazy("The last day of the period, such as the end of your business year."),
    )
