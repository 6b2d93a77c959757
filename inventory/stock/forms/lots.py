"""What can be done to one lot."""

from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext_lazy

from inventory.errors import NotEnough
from inventory.ledger.models import Lot, Reason
from inventory.stock.actions.lots import DESCRIPTION
from studio.errors import MeniscusError
from studio.pages.forms import AskingForm, DayInput, QuantityField, RowForm
from studio.pages.formsets import Rows
from studio.translation import _
from studio.values.units import Measure


class LotForm(RowForm):
    """What is written on the jar."""

    empty_weight = QuantityField(
        measure=Measure.MASS,
        allow_zero=True,
        required=False,
        label=gettext_lazy("Empty weight"),
        help_text=gettext_lazy("Of the empty container, such as 34 g."),
    )

    class Meta:
        model = Lot
        fields = DESCRIPTION
        help_texts = {"place": gettext_lazy("Shelf, box or drawer.")}
        widgets = {"opened_on": DayInput, "best_before": DayInput}


class LotActForm(AskingForm):
    """Something that takes a quantity out of a lot on a day."""

    quantity = forms.CharField(label=gettext_lazy("Amount"), max_length=60)
    on = forms.DateField(label=gettext_lazy("Day"), widget=DayInput())

    def __init__(self, *args: Any, lot: Lot, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.lot = lot
        self.fields["on"].initial = timezone.localdate()
        balance = getattr(lot, "balance", None)
        if balance is not None:
            held = self.formatter.quantity(balance.quantity, lot.material.measure)
            self.fields["quantity"].help_text = _("Recorded: {amount}.", amount=held)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        material = self.lot.material
        if cleaned.get("quantity"):
            cleaned["quantity"] = self.read_amount("quantity", material.measure, density=material.density)
        return cleaned

    @property
    def facts(self) -> dict[str, Any]:
        """What the action takes besides the lot and the submission."""
        return {
            name: value for name, value in self.cleaned_data.items() if name not in ("key", "on", "confirmed")
        }

    def refuse(self, problem: MeniscusError, **formsets: Rows) -> None:
        """A shortfall lands on the quantity, with what can be done about it here."""
        if isinstance(problem, NotEnough):
            advice = _(
                "{shortfall} Take less, or do a stocktake of the lot first if it really holds more.",
                shortfall=" ".join(problem.described),
            )
            self.add_error("quantity", advice)
        else:
            super().refuse(problem, **formsets)


class WriteOffForm(LotActForm):
    reason = forms.ModelChoiceField(
        Reason.objects.exclude(kind=Reason.Kind.COUNT),
        empty_label=gettext_lazy("Choose…"),
        label=gettext_lazy("Reason"),
    )
    note = forms.CharField(label=gettext_lazy("Note"), required=False, max_length=300)

    field_order = ["quantity", "reason", "on", "note"]


class DecantForm(LotActForm):
    place = forms.CharField(required=False, max_length=60, label=gettext_lazy("Where the new jar is kept"))
    empty_weight = QuantityField(
        measure=Measure.MASS,
        allow_zero=True,
        required=False,
        label=gettext_lazy("Weight of the empty jar"),
        help_text=gettext_lazy("With this you can weigh what is left later."),
    )
