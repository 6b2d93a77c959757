"""A commission, a payment for it, its reversal, and the end of one that comes to nothing, as they are typed."""

from typing import TYPE_CHECKING, Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext_lazy, pgettext_lazy

from costing.commissions.models import LONGEST_WANTED, Commission, CommissionState
from costing.commissions.queries import figures_of
from costing.contacts.forms import ContactChoice
from costing.pricing.models import SalesChannel
from studio.pages.forms import DayInput, KeyedForm, MoneyField, NotesField, RowForm
from studio.preferences.formatting import Formatter
from studio.preferences.models import Studio
from studio.translation import _

if TYPE_CHECKING:
    CommissionField = forms.ModelChoiceField[Commission]
else:
    CommissionField = forms.ModelChoiceField


class CommissionForm(RowForm):
    """What is agreed."""

    contact = ContactChoice(
        label=gettext_lazy("Who orders it"),
        help_text=gettext_lazy("Add the contact first. Erasing it later leaves the figures."),
    )
    wanted = NotesField(
        label=gettext_lazy("What is wanted"),
        max_length=LONGEST_WANTED,
        required=True,
        help_text=gettext_lazy("Size, colours, technique, where it will hang. The first line names it."),
    )
    price = MoneyField(label=gettext_lazy("Agreed price ({currency}), tax included"))
    agreed_on = forms.DateField(label=gettext_lazy("Agreed on"), widget=DayInput, initial=timezone.localdate)
    wanted_by = forms.DateField(label=gettext_lazy("Wanted by"), widget=DayInput, required=False)

    class Meta:
        model = Commission
        fields = ("contact", "wanted", "price", "agreed_on", "wanted_by")


class PaymentForm(KeyedForm):
    """A deposit or a further part."""

    amount = MoneyField(label=gettext_lazy("Amount ({currency})"))
    channel = forms.ModelChoiceField(
        label=gettext_lazy("How it was paid"),
        queryset=SalesChannel.objects.filter(is_active=True),
        empty_label=gettext_lazy("Choose…"),
        help_text=gettext_lazy(
            "Its sales channel. What comes in at a market counts as takings of that market."
        ),
    )
    on = forms.DateField(label=gettext_lazy("Day"), widget=DayInput, initial=timezone.localdate)
    reason = forms.CharField(label=gettext_lazy("Note"), max_length=200, required=False)
    field_order = ("amount", "channel", "on", "reason")


class ReversalForm(KeyedForm):
    """A payment that was a mistake."""

    reason = forms.CharField(label=gettext_lazy("What was wrong with it"), max_length=200)
    on = forms.DateField(
        label=gettext_lazy("Day"),
        widget=DayInput,
        help_text=gettext_lazy("The day of the payment, so that the takings of that day are right."),
    )
    field_order = ("reason", "on")


class CancelForm(KeyedForm):
    """A commission that comes to nothing."""

    returned = MoneyField(
        label=gettext_lazy("Paid back ({currency})"),
        initial=0,
        help_text=gettext_lazy("What is not paid back is kept."),
    )
    channel = forms.ModelChoiceField(
        label=gettext_lazy("How it was paid back"),
        queryset=SalesChannel.objects.filter(is_active=True),
        required=False,
        empty_label=gettext_lazy("Choose…"),
    )
    reason = forms.CharField(
        label=gettext_lazy("Reason"),
        max_length=200,
        required=False,
        help_text=gettext_lazy("Needed where something is kept."),
    )
    on = forms.DateField(label=gettext_lazy("Day"), widget=DayInput, initial=timezone.localdate)
    field_order = ("returned", "channel", "reason", "on")


class ReopenForm(KeyedForm):
    """A cancelled commission that goes on."""

    on = forms.DateField(label=gettext_lazy("Day"), widget=DayInput, initial=timezone.localdate)


class CommissionChoice(CommissionField):
    """One of the open commissions, with what was paid for it."""

    held: dict[int, int]

    def __init__(self, **kwargs: Any) -> None:
        self.held = {}
        usual: dict[str, Any] = {
            "queryset": Commission.objects.filter(state=CommissionState.OPEN),
            "label": pgettext_lazy("made to order", "Commission"),
            "empty_label": gettext_lazy("None"),
            "required": False,
            "help_text": gettext_lazy("What was paid for it before is set off against the price."),
        }
        super().__init__(**usual | kwargs)

    def name_with_payments(self, studio: Studio) -> None:
        """Name each choice with what was paid, in one query; `held` keeps it by choice."""
        formatter = Formatter.of(studio)
        rows = figures_of(self.queryset or [])
        self.held = {each.commission.pk: each.held for each in rows}
        self.choices = [
            ("", self.empty_label),
            *(
                (
                    each.commission.pk,
                    _("{title}, {paid} paid", title=each.commission.title, paid=formatter.money(each.held)),
                )
                for each in rows
            ),
        ]
