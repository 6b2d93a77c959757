"""Forms that put a delivery right: they open with what is recorded, as corrected so far."""

from collections.abc import Sequence
from typing import Any, cast

from django import forms
from django.utils.translation import gettext_lazy

from inventory.materials.models import Supplier
from inventory.purchasing.actions.corrections import CorrectionFacts, entered_figures
from inventory.purchasing.actions.delivery_facts import invoice_currency
from inventory.purchasing.forms.deliveries import InvoiceForm, PackForm
from inventory.purchasing.models import Delivery, DeliveryLine
from studio.errors import InputError
from studio.pages.forms import Fieldset, KeyedForm
from studio.pages.formsets import Rows, rows_of
from studio.preferences.formatting import Formatter
from studio.values.numbers import read_small_whole
from studio.values.quantities import input_text
from studio.values.units import Measure

CORRECTED = (
    "supplier", "received_on", "currency", "rate", "paid", "rate_on", "carriage", "carriage_shared_by", "duty", "tax",
)  # fmt: skip
MOST_LINES = 200  # three fields a line: below the thousand fields that one request may carry


class CorrectionForm(KeyedForm):
    """What every correction of a receipt says besides its figures.

    `known` is the last correction that the figures in the form come from. `seen` names what the preview showed, so that
    nothing else can be posted unseen.
    """

    reason = forms.CharField(
        label=gettext_lazy("Reason"),
        max_length=300,
        help_text=gettext_lazy(
            "For the ledger: a wrong pack size, a late invoice, a credit note, a duty bill."
        ),
    )
    known = forms.CharField(widget=forms.HiddenInput, required=False)
    seen = forms.CharField(widget=forms.HiddenInput, required=False)

    @property
    def last_known(self) -> int:
        return read_small_whole(self.cleaned_data["known"]) or 0


class CorrectDeliveryForm(CorrectionForm, InvoiceForm):
    """Supplier, day, currency and shared costs of a delivery as they should have been recorded.

    One that answers an order is from the order's supplier.
    """

    supplier = forms.ModelChoiceField(
        label=gettext_lazy("Supplier"), queryset=Supplier.objects.all(), empty_label=None
    )
    currency = forms.CharField(
        label=gettext_lazy("Currency of the invoice"),
        max_length=3,
        help_text=gettext_lazy(
            "Three letters. If it is not yours, enter the exchange rate or what you paid."
        ),
    )

    fieldsets = (
        Fieldset(gettext_lazy("Invoice details"), ["supplier", "received_on"]),
        Fieldset(gettext_lazy("Currency"), ["currency", "rate", "paid", "rate_on"]),
        Fieldset(gettext_lazy("Shared costs"), ["carriage", "carriage_shared_by", "duty", "tax"]),
    )

    def __init__(self, *args: Any, delivery: Delivery, known: int, **kwargs: Any) -> None:
        recorded = entered_figures(delivery)
        # A shared cost of nothing opens as a blank field, as it was left when the delivery was logged.
        initial = {name: figure or None for name, figure in recorded.items()} | {"known": known}
        super().__init__(*args, initial=initial, **kwargs)
        self.delivery = delivery
        if delivery.order_id is not None:
            del self.fields["supplier"]

    @property
    def invoice_currency(self) -> str:
        """What is in the field, as a code; that of the delivery where it is none."""
        written = str(self["currency"].value() or "")
        try:
            return invoice_currency(written, self.delivery.supplier)
        except InputError:
            return self.delivery.currency

    def clean_currency(self) -> str:
        try:
            return invoice_currency(self.cleaned_data["currency"], self.delivery.supplier)
        except InputError as problem:
            raise forms.ValidationError(str(problem)) from None

    @property
    def figures(self) -> dict[str, Any]:
        """What the form says of the delivery; a cost that was left blank is none."""
        entered = {name: self.cleaned_data[name] for name in CORRECTED if name in self.fields}
        return entered | {name: entered[name] or 0 for name in ("carriage", "duty", "tax")}


class CorrectedLineForm(PackForm):
    """One line of the delivery: its packs, their size, and what they cost together."""

    def __init__(self, *args: Any, line: DeliveryLine, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.line = line
        self.label = f"{line.lot.material.name}, {line.lot.label}"
        self.initial = {"packs": line.packs, "pack": pack_as_typed(line, self.formatter), "price": line.price}

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        material = self.line.lot.material
        # A size that was left alone stands as it was read then: the density may have been measured anew since.
        self.pack_size, self.typed = self.line.quantity // self.line.packs, self.line.typed
        if "pack" in self.changed_data and (typed := cleaned.get("pack")):
            self.pack_size = self.read_amount("pack", material.measure, density=material.density) or 0
            self.typed = typed
        return cleaned

    @property
    def figures(self) -> dict[str, Any]:
        """What the form says of the line."""
        packs, price = self.cleaned_data["packs"], self.cleaned_data["price"]
        return {"pack": self.pack_size, "packs": packs, "price": price, "typed": self.typed}


class CorrectedLinesBase(Rows):
    """The lines of a delivery or of opening stock, all of them and no others."""

    def __init__(self, *args: Any, lines: Sequence[Any], **kwargs: Any) -> None:
        self.lines = lines
        super().__init__(*args, prefix="lines", **kwargs)

    def total_form_count(self) -> int:
        return len(self.lines)

    def get_form_kwargs(self, index: int | None) -> dict[str, Any]:
        own = {} if index is None else {"empty_permitted": False}  # a line left as it was counts as well
        return {**super().get_form_kwargs(index), "line": self.lines[index or 0], **own}

    @property
    def kept(self) -> list[Any]:
        return list(self.forms)

    @property
    def figures(self) -> dict[int, dict[str, Any]]:
        """What each row says, by its lot."""
        return {row.line.lot_id: row.figures for row in self.forms}


CorrectedLines = cast(
    "type[CorrectedLinesBase]",
    rows_of(CorrectedLineForm, at_most=MOST_LINES, formset=CorrectedLinesBase, can_delete=False),
)


def facts_of(form: CorrectDeliveryForm, lines: CorrectedLinesBase) -> CorrectionFacts:
    """What valid forms ask for."""
    return CorrectionFacts(
        home_currency=form.studio.currency,
        delivery=form.figures,
        lines=lines.figures,
        reason=form.cleaned_data["reason"],
        seen=form.last_known,
    )


def pack_as_typed(line: DeliveryLine, formatter: Formatter) -> str:
    """The size of a line's pack as it was typed, where that still reads the same; else in base units."""
    material, pack = line.lot.material, line.quantity // line.packs
    try:
        if formatter.read(line.typed, material.measure, density=material.density).quantity.amount == pack:
            return line.typed
    except InputError:
        pass
    return input_text(pack, Measure(material.measure), decimal_comma=formatter.decimal_comma)
