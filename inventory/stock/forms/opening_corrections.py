"""Forms that put opening stock right: they open with what is recorded, as corrected so far."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, cast

from django import forms
from django.utils.translation import gettext_lazy

from inventory.ledger.corrections import Receipt
from inventory.ledger.models import Lot
from inventory.purchasing.forms.corrections import MOST_LINES, CorrectedLinesBase, CorrectionForm
from inventory.stock.actions.opening_stock import OpeningCorrectionFacts
from studio.pages.forms import DayInput, Fieldset, MoneyField, StudioForm
from studio.pages.formsets import rows_of
from studio.translation import _
from studio.values.quantities import input_text
from studio.values.units import Measure


@dataclass(frozen=True, slots=True)
class RecordedLot:
    """One lot of opening stock, and what is recorded of it (thousandths, millionths)."""

    lot: Lot
    quantity: int
    money: int

    @property
    def lot_id(self) -> int:
        return self.lot.pk


class CorrectOpeningForm(CorrectionForm):
    """The day on which opening stock stood there, as it should have been recorded."""

    received_on = forms.DateField(label=gettext_lazy("Stock as of"), widget=DayInput)
    fieldsets = (Fieldset(gettext_lazy("Opening stock"), ["received_on"]),)

    def __init__(self, *args: Any, receipt: Receipt, known: int, **kwargs: Any) -> None:
        super().__init__(*args, initial={"received_on": receipt.day, "known": known}, **kwargs)
        self.fields["reason"].help_text = _("For the ledger: a wrong amount, a price found later.")


class CorrectedLotForm(StudioForm):
    """One lot: how much there was of it on that day, and what that had cost."""

    quantity = forms.CharField(label=gettext_lazy("Amount on that day"), max_length=60)
    money = MoneyField(label=gettext_lazy("Cost of it"))

    def __init__(self, *args: Any, line: RecordedLot, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.line, material = line, line.lot.material
        self.label = f"{material.name}, {line.lot.label}"
        self.fields["money"].label = _("Cost of it ({currency})", currency=self.studio.currency)
        comma = self.formatter.decimal_comma
        recorded = input_text(line.quantity, Measure(material.measure), decimal_comma=comma)
        self.initial = {"quantity": recorded, "money": line.money}

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        self.amount, material = self.line.quantity, self.line.lot.material
        if "quantity" in self.changed_data:
            self.amount = self.read_amount("quantity", material.measure, density=material.density) or 0
        return cleaned

    @property
    def figures(self) -> dict[str, int]:
        """What the form says of the lot. A cost left alone keeps what a field cannot show of it."""
        money = self.cleaned_data["money"] if "money" in self.changed_data else self.line.money
        return {"quantity": self.amount, "money": money}


CorrectedLots = cast(
    "type[CorrectedLinesBase]",
    rows_of(CorrectedLotForm, at_most=MOST_LINES, formset=CorrectedLinesBase, can_delete=False),
)


def recorded_lots(receipt: Receipt, lots: Sequence[Lot]) -> list[RecordedLot]:
    return [RecordedLot(lot, *receipt.lots[lot.pk]) for lot in lots]


def opening_facts_of(form: CorrectOpeningForm, lines: CorrectedLinesBase) -> OpeningCorrectionFacts:
    """What valid forms ask for."""
    return OpeningCorrectionFacts(
        received_on=form.cleaned_data["received_on"],
        lines=lines.figures,
        reason=form.cleaned_data["reason"],
        seen=form.last_known,
    )
