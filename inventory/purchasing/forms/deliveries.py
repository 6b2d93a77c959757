"""Forms for what comes in: a delivery with its lines, filters of the list, and a late change of cost."""

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.forms import BaseFormSet, formset_factory
from django.utils.translation import gettext_lazy

from inventory.materials.choices import MaterialChoice
from inventory.materials.models import Material, Supplier
from inventory.purchasing.actions.deliveries import DeliveryFacts, LineFacts
from inventory.purchasing.incoming import OrderState
from inventory.purchasing.models import Delivery, DeliveryLine, Order, OrderLine
from studio.errors import InputError, MoneyError
from studio.pages.forms import DayInput, KeyedForm, MoneyField, RatioField, StudioForm
from studio.translation import _
from studio.values.money import minor_units, money_input_text, round_to_minor
from studio.values.quantities import Quantity, input_text
from studio.values.units import Measure

LONGEST_TYPED = 60
MOST_LINES = 80  # nine fields a line: below the thousand fields that one request may carry
SAME = 1_000_000


class DeliveryForm(KeyedForm):
    """The head of a delivery: from whom, when, in what currency, and the costs that all lines share."""

    supplier = forms.ModelChoiceField(
        label=gettext_lazy("Supplier"), queryset=Supplier.objects.all(), empty_label=gettext_lazy("Choose…")
    )
    received_on = forms.DateField(label=gettext_lazy("Received on"), widget=DayInput)
    reference = forms.CharField(label=gettext_lazy("Invoice number"), max_length=60, required=False)
    currency = forms.CharField(
        label=gettext_lazy("Currency of the invoice"),
        max_length=3,
        required=False,
        help_text=gettext_lazy("Three letters. Left empty: the supplier's own currency."),
    )
    rate = RatioField(
        label=gettext_lazy("Exchange rate"),
        required=False,
        help_text=gettext_lazy(
            "Only for an invoice in another currency: what one unit of it costs in yours."
        ),
    )
    rate_on = forms.DateField(label=gettext_lazy("Day of the rate"), widget=DayInput, required=False)
    carriage = MoneyField(label=gettext_lazy("Carriage"), required=False, example="4.95")
    carriage_shared_by = forms.ChoiceField(
        label=gettext_lazy("Share the carriage"),
        choices=Delivery.SharedBy.choices,
        initial=Delivery.SharedBy.VALUE,
    )
    duty = MoneyField(label=gettext_lazy("Duty"), required=False)
    tax = MoneyField(
        label=gettext_lazy("Tax not reclaimed"),
        required=False,
        help_text=gettext_lazy(
            "Sales tax on the invoice, if you cannot claim it back. It becomes part of the cost."
        ),
    )
    close_order = forms.BooleanField(
        label=gettext_lazy("Expect nothing more from this order"), required=False
    )

    def __init__(self, *args: Any, order: Order | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.order = order
        for name in ("carriage", "duty", "tax"):
            self.fields[name].label = f"{self.fields[name].label!s} ({self.studio.currency})"
        if order is None:
            del self.fields["close_order"]
        else:
            self.fields["supplier"].disabled = True
            self.initial["supplier"] = order.supplier_id

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        supplier = cleaned.get("supplier")
        written = (cleaned.get("currency") or "").strip().upper()
        cleaned["currency"] = written or (supplier.currency if supplier else self.studio.currency)
        try:
            minor_units(cleaned["currency"])
        except MoneyError as problem:
            self.add_error("currency", str(problem))
            return cleaned
        self._check_rate(cleaned)
        return cleaned

    def _check_rate(self, cleaned: dict[str, Any]) -> None:
        rate, currency, own = cleaned.get("rate"), cleaned["currency"], self.studio.currency
        if currency == own and rate not in (None, SAME):
            self.add_error(
                "rate", _("The invoice is in {currency} already. Leave the rate empty.", currency=own)
            )
        if currency != own and rate is None and "rate" not in self.errors:
            self.add_error(
                "rate",
                _("How much {own} was one {foreign}? Write for example 0.86.", own=own, foreign=currency),
            )

    @property
    def invoice_currency(self) -> str:
        """The currency the line prices are typed in, known once the form has been read."""
        currency: str = self.cleaned_data.get("currency") or self.studio.currency
        return currency if "currency" not in self.errors else self.studio.currency

    def facts(self, lines: Sequence[LineFacts]) -> DeliveryFacts:
        """Everything the writer needs, from this form and its lines once both are valid."""
        said = self.cleaned_data
        foreign = said["currency"] != self.studio.currency
        return DeliveryFacts(
            supplier=said["supplier"],
            received_on=said["received_on"],
            currency=said["currency"],
            lines=lines,
            rate=said["rate"] if foreign else SAME,
            rate_on=(said["rate_on"] or said["received_on"]) if foreign else None,
            carriage=said["carriage"] or 0,
            carriage_shared_by=said["carriage_shared_by"],
            duty=said["duty"] or 0,
            tax=said["tax"] or 0,
            reference=said["reference"],
            order=self.order,
            close_order=said.get("close_order", False),
        )


class DeliveryLineForm(StudioForm):
    """One line of a delivery. Blank lines are left out."""

    material = MaterialChoice(label=gettext_lazy("Material"))
    pack = forms.CharField(
        label=gettext_lazy("In one pack"),
        max_length=LONGEST_TYPED,
        # Translators: with units as they can be typed.
        widget=forms.TextInput(attrs={"placeholder": gettext_lazy("8 fl oz, 500 g, 10 each")}),
    )
    packs = forms.IntegerField(label=gettext_lazy("Packs"), min_value=1, max_value=100_000, initial=1)
    price = MoneyField(label=gettext_lazy("Line price"), example="12.50")
    best_before = forms.DateField(label=gettext_lazy("Best before"), widget=DayInput, required=False)
    place = forms.CharField(label=gettext_lazy("Shelf place"), max_length=60, required=False)
    supplier_batch = forms.CharField(label=gettext_lazy("Batch"), max_length=60, required=False)
    order_line = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(
        self,
        *args: Any,
        materials: Mapping[int, Material],
        choices: list[tuple[str, Any]],
        currency: str,
        order_lines: Mapping[int, OrderLine],
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.order_lines = order_lines
        self.quantity = 0
        material, price = self.fields["material"], self.fields["price"]
        if isinstance(material, MaterialChoice) and isinstance(price, MoneyField):
            material.offer(materials, choices)
            price.currency = currency

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        material, pack, packs = cleaned.get("material"), cleaned.get("pack"), cleaned.get("packs")
        if material is not None and pack and packs:
            try:
                reading = self.reading(pack, material.measure, density=material.density)
                self.quantity = Quantity(reading.quantity.measure, reading.quantity.amount * packs).amount
            except InputError as problem:
                self.add_error("pack", str(problem))
        return cleaned

    def facts(self) -> LineFacts:
        """The line for the writer; a row turned over to another material no longer answers its order line."""
        said = self.cleaned_data
        ordered = self.order_lines.get(said["order_line"] or 0)
        return LineFacts(
            material=said["material"],
            quantity=self.quantity,
            price=said["price"],
            packs=said["packs"],
            best_before=said["best_before"],
            place=said["place"],
            supplier_batch=said["supplier_batch"],
            order_line=ordered if ordered and ordered.material_id == said["material"].pk else None,
            typed=said["pack"],
        )


DeliveryLines = formset_factory(
    DeliveryLineForm,
    extra=6,
    can_delete=True,
    min_num=0,
    max_num=MOST_LINES,
    absolute_max=MOST_LINES,
    validate_max=True,
)


def line_facts(formset: "BaseFormSet[DeliveryLineForm]") -> list[LineFacts]:
    """The rows that say something and are not removed, for the writer."""
    return [row.facts() for row in formset.forms if row.has_changed() and row not in formset.deleted_forms]


def still_to_come(state: OrderState, *, decimal_comma: bool) -> list[dict[str, Any]]:
    """First values for the lines of a delivery that answers an order."""
    currency = state.order.supplier.currency
    return [
        {
            "material": progress.line.material_id,
            "pack": input_text(
                progress.to_come, Measure(progress.line.material.measure), decimal_comma=decimal_comma
            ),
            "packs": 1,
            "price": _round_price(progress.price_to_come, currency, decimal_comma=decimal_comma),
            "order_line": progress.line.pk,
        }
        for progress in state.lines
        if progress.to_come
    ]


def _round_price(price: int, currency: str, *, decimal_comma: bool) -> str:
    return (
        money_input_text(round_to_minor(price, currency), currency, decimal_comma=decimal_comma)
        if price
        else ""
    )


class CorrectionForm(KeyedForm):
    """A late change to what one line of a delivery cost."""

    line = forms.ModelChoiceField(
        label=gettext_lazy("Which line"), queryset=DeliveryLine.objects.none(), empty_label=None
    )
    direction = forms.ChoiceField(
        label=gettext_lazy("It cost"),
        choices=[("more", gettext_lazy("more than posted")), ("less", gettext_lazy("less than posted"))],
        initial="more",
    )
    amount = MoneyField(label=gettext_lazy("By how much"))
    on = forms.DateField(label=gettext_lazy("Post it on"), widget=DayInput)
    reason = forms.CharField(
        label=gettext_lazy("Why"),
        max_length=300,
        help_text=gettext_lazy("For the ledger: a late invoice, a credit note, a duty bill."),
    )
    seen = forms.CharField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, lines: list[DeliveryLine], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["amount"].label = _("By how much ({currency})", currency=self.studio.currency)
        choice = self.fields["line"]
        if isinstance(choice, forms.ModelChoiceField):
            choice.queryset = DeliveryLine.objects.filter(pk__in=[line.pk for line in lines]).select_related(
                "lot__material"
            )
            choice.label_from_instance = self._label  # type: ignore[method-assign]

    def _label(self, obj: Any) -> str:
        return f"{obj.lot.material.name}, {obj.lot.label}: {self.formatter.money(obj.landed)}"

    @property
    def difference(self) -> int:
        """The change in millionths: above zero when it cost more."""
        amount: int = self.cleaned_data["amount"]
        return amount if self.cleaned_data["direction"] == "more" else -amount

    @property
    def what_was_seen(self) -> str:
        """Names what the preview showed, so that nothing else can be posted unseen."""
        return f"{self.cleaned_data['line'].pk}:{self.difference}"
