"""What can be done to one lot."""

from dataclasses import fields
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext_lazy

from inventory.errors import NotEnough
from inventory.ledger.models import Lot, Reason
from inventory.stock.actions.lots import LotDescription
from studio.errors import MeniscusError
from studio.pages.forms import DayInput, EditForm, KeyedForm, QuantityField
from studio.pages.formsets import Rows
from studio.translation import _
from studio.values.units import Measure


class LotForm(EditForm):
    """What is written on the jar."""

    opened_on = forms.DateField(label=gettext_lazy("Opened on"), required=False, widget=DayInput())
    best_before = forms.DateField(label=gettext_lazy("Best before"), required=False, widget=DayInput())
    place = forms.CharField(
        label=gettext_lazy("Place"),
        required=False,
        max_length=60,
        help_text=gettext_lazy("Shelf, box or drawer."),
    )
    supplier_batch = forms.CharField(required=False, max_length=60, label=gettext_lazy("Batch"))
    empty_weight = QuantityField(
        measure=Measure.MASS,
        allow_zero=True,
        required=False,
        label=gettext_lazy("Empty weight"),
        help_text=gettext_lazy("Of the empty container, such as 34 g."),
    )

    def __init__(self, *args: Any, lot: Lot, seen: int, **kwargs: Any) -> None:
        written = {each.name: getattr(lot, each.name) for each in fields(LotDescription)}
        kwargs.setdefault("initial", {"seen": seen, **written})
        super().__init__(*args, **kwargs)

    def facts(self) -> LotDescription:
        return LotDescription(**{each.name: self.cleaned_data[each.name] for each in fields(LotDescription)})


class LotActForm(KeyedForm):
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
            cleaned["amount"] = self.read_amount("quantity", material.measure, density=material.density)
        return cleaned

    def facts(self) -> dict[str, Any]:
        cleaned = self.cleaned_data
        return {"quantity": cleaned["amount"]}

    def refuse(self, problem: MeniscusError, **formsets: Rows) -> None:
        """A shortfall lands on the quantity, with what can be done about it here."""
        if isinstance(problem, NotEnough):
            told = " ".join(problem.described)
            self.add_error(
                "quantity",
                _(
                    "{shortfall} Take less, or do a stocktake of the lot first if it really holds more.",
                    shortfall=told,
                ),
            )
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

    def facts(self) -> dict[str, Any]:
        return {**super().facts(), "reason": self.cleaned_data["reason"], "note": self.cleaned_data["note"]}


class DecantForm(LotActForm):
    place = forms.CharField(required=False, max_length=60, label=gettext_lazy("Where the new jar is kept"))
    empty_weight = QuantityField(
        measure=Measure.MASS,
        allow_zero=True,
        required=False,
        label=gettext_lazy("Weight of the empty jar"),
        help_text=gettext_lazy("With this you can weigh what is left later."),
    )

    def facts(self) -> dict[str, Any]:
        cleaned = self.cleaned_data
        return {**super().facts(), "place": cleaned["place"], "empty_weight": cleaned["empty_weight"]}
