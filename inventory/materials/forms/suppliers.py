"""Forms of suppliers, what they ask for an order, and the packs they sell."""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy

from inventory.materials.choices import MaterialChoice, by_kind
from inventory.materials.models import Material, Supplier, Supply
from inventory.materials.packs import tidy_gtin
from studio.errors import InputError
from studio.pages.forms import CodeInput, Fieldset, NotesField, RatioField, RowForm
from studio.preferences.locale_choices import CurrencyInput
from studio.translation import _
from studio.values.money import money_input_text, read_money
from studio.values.numbers import read_small_whole
from studio.values.quantities import input_text
from studio.values.units import Measure

TERMS = ("carriage", "free_carriage_from", "minimum_order")  # money in the supplier's currency
MOST_BREAKS = 10


class SupplierForm(RowForm):
    """Everything known of one supplier."""

    currency = forms.CharField(
        label=gettext_lazy("Currency"),
        max_length=3,
        widget=CurrencyInput,
        help_text=gettext_lazy("The currency of its prices, and of what it asks for an order."),
    )
    carriage = forms.CharField(
        label=gettext_lazy("Carriage"),
        max_length=60,
        required=False,
        help_text=gettext_lazy("What it charges to send one order, such as 6. Leave blank if nothing."),
    )
    free_carriage_from = forms.CharField(
        label=gettext_lazy("Free carriage from"),
        max_length=60,
        required=False,
        help_text=gettext_lazy(
            "Orders of this much are sent free. Leave blank if carriage is always charged."
        ),
    )
    minimum_order = forms.CharField(
        label=gettext_lazy("Minimum order value"),
        max_length=60,
        required=False,
        help_text=gettext_lazy("It sends nothing for less. Leave blank if there is none."),
    )
    exchange_rate = RatioField(
        label=gettext_lazy("Exchange rate for comparing prices"),
        required=False,
        example=860_000,
        help_text=gettext_lazy(
            "What one unit of its currency costs in yours, such as {example}. Leave blank to use the rate of the last "
            "delivery you paid for in that currency."
        ),
    )
    address = NotesField(
        label=gettext_lazy("Address"),
        max_length=500,
        help_text=gettext_lazy("Line by line, as printed on your orders."),
    )
    notes = NotesField(max_length=5_000)

    fieldsets = (
        Fieldset(
            "",
            [
                "name",
                "country",
                "email",
                "address",
                "customer_number",
                "lead_time_days",
                "lead_time_variation_days",
            ],
        ),
        Fieldset(
            gettext_lazy("Terms"),
            ["currency", "carriage", "free_carriage_from", "minimum_order", "exchange_rate"],
            gettext_lazy("The shopping list uses them to find the cheapest way to buy everything you need."),
        ),
        Fieldset("", ["notes"]),
    )

    class Meta:
        model = Supplier
        fields = (
            "name", "country", "currency", "lead_time_days", "lead_time_variation_days", "email", "address",
            "customer_number", "carriage", "free_carriage_from", "minimum_order", "exchange_rate", "notes",
        )  # fmt: skip
        labels = {
            "lead_time_days": gettext_lazy("Lead time (days)"),
            "customer_number": gettext_lazy("Customer number"),
        }
        help_texts = {
            "customer_number": gettext_lazy("The number the supplier knows you by."),
            "lead_time_days": gettext_lazy("Usual days from order to delivery."),
            "lead_time_variation_days": gettext_lazy(
                "How far it usually differs from that (standard deviation)."
            ),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk is None:
            self.initial["currency"] = self.studio.currency
        for name in TERMS:
            amount = getattr(self.instance, name)
            self.initial[name] = (
                money_input_text(amount, self.instance.currency, decimal_comma=self.formatter.decimal_comma)
                if amount
                else ""
            )

    def clean_currency(self) -> str:
        return str(self.cleaned_data["currency"]).strip().upper()

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        currency = cleaned.get("currency")
        for name in TERMS:
            text, cleaned[name] = cleaned.get(name), None
            if text and currency:
                try:
                    cleaned[name] = (
                        read_money(text, currency, decimal_comma=self.formatter.decimal_comma) or None
                    )
                except InputError as problem:
                    self.add_error(name, ValidationError(str(problem)))
        cleaned["carriage"] = cleaned.get("carriage") or 0
        return cleaned


class PackForm(RowForm):
    """One pack of a material at a supplier's price. Its supplier stays."""

    supplier = forms.ModelChoiceField(
        Supplier.objects.all(), label=gettext_lazy("Supplier"), empty_label=gettext_lazy("Choose…")
    )
    new_supplier = forms.CharField(
        label=gettext_lazy("Or a new supplier"),
        max_length=120,
        required=False,
        help_text=gettext_lazy("Its name; the rest can be added later."),
    )
    material = MaterialChoice(label=gettext_lazy("Material"))
    pack_size = forms.CharField(
        label=gettext_lazy("Pack size"), max_length=60, help_text=gettext_lazy("As on the label: 500 ml.")
    )
    price = forms.CharField(
        label=gettext_lazy("Pack price"), max_length=60, help_text=gettext_lazy("In the supplier's currency.")
    )
    price_breaks = forms.CharField(
        label=gettext_lazy("Price breaks"),
        required=False,
        max_length=600,
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text=gettext_lazy(
            "One a line: from how many packs, and what each of them then costs, such as 6: 16."
        ),
    )
    barcode = forms.CharField(
        label=gettext_lazy("Barcode"),
        max_length=30,
        required=False,
        widget=CodeInput(attrs={"inputmode": "numeric"}),
        help_text=gettext_lazy("The 8 to 14 digits under the bars."),
    )

    class Meta:
        model = Supply
        fields = (
            "supplier", "material", "pack_size", "price", "barcode", "minimum_packs", "is_preferred",
        )  # fmt: skip
        help_texts = {
            "is_preferred": gettext_lazy("Order from this supplier first, even where another one is cheaper.")
        }

    def __init__(self, *args: Any, materials: Mapping[int, Material], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choice = self.fields["material"]
        if isinstance(choice, MaterialChoice):
            choice.offer(materials, by_kind(materials.values()))
        pack: Supply = self.instance
        supplier = self.initial.get("supplier")
        if pack.pk is not None:
            supplier, comma = pack.supplier, self.formatter.decimal_comma
            self.initial["pack_size"] = input_text(
                pack.pack_size, Measure(pack.material.measure), decimal_comma=comma
            )
            self.initial["price"] = money_input_text(pack.price, supplier.currency, decimal_comma=comma)
            self.initial["price_breaks"] = "\n".join(
                f"{each.from_packs}: {money_input_text(each.price, supplier.currency, decimal_comma=comma)}"
                for each in pack.price_breaks.all()
            )
            self.fields["supplier"].disabled = True
            del self.fields["new_supplier"]
        else:
            self.fields["supplier"].required = False
        if isinstance(supplier, Supplier):
            self.fields["price"].help_text = _("In {currency}.", currency=supplier.currency)

    field_order = ("supplier", "new_supplier", "material", "pack_size", "price", "price_breaks")

    def clean_barcode(self) -> str:
        return tidy_gtin(str(self.cleaned_data["barcode"]))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        material: Material | None = cleaned.get("material")
        supplier = cleaned["supplier"] = self._supplier(cleaned)
        if material is not None:
            cleaned["pack_size"] = self.read_amount("pack_size", material.measure, density=material.density)
        if supplier is not None and cleaned.get("price"):
            try:
                cleaned["price"] = read_money(
                    cleaned["price"], supplier.currency, decimal_comma=self.formatter.decimal_comma
                )
            except InputError as problem:
                self.add_error("price", ValidationError(str(problem)))
        cleaned["price_breaks"] = self._breaks(supplier, cleaned.get("price_breaks") or "")
        return cleaned

    def _supplier(self, cleaned: dict[str, Any]) -> Supplier | None:
        """The one that was chosen, or a new one by its name, saved with the pack."""
        chosen: Supplier | None = cleaned.get("supplier")
        name = " ".join((cleaned.get("new_supplier") or "").split())
        if chosen is not None or self.has_error("supplier"):
            return chosen
        if not name:
            self.add_error("supplier", _("Choose a supplier, or name a new one."))
            return None
        known = Supplier.objects.filter(name__iexact=name).first()
        return known or Supplier(name=name, currency=self.studio.currency)

    def _breaks(self, supplier: Supplier | None, text: str) -> list[tuple[int, int]]:
        """Each line as a number of packs and a price; what cannot be read becomes the field's error."""
        if supplier is None:
            return []
        lines = [line for line in text.splitlines() if line.strip()]
        if len(lines) > MOST_BREAKS:
            self.add_error("price_breaks", _("List at most {most} price breaks.", most=MOST_BREAKS))
            return []
        breaks = []
        for line in lines:
            packs_text, colon, price_text = line.partition(":")
            packs = read_small_whole(packs_text.strip())
            if not colon or not packs or not price_text.strip():
                advice = _(
                    "“{line}” cannot be read. Enter packs and price, such as 6: 16.", line=line.strip()
                )
                self.add_error("price_breaks", advice)
                continue
            try:
                price = read_money(price_text, supplier.currency, decimal_comma=self.formatter.decimal_comma)
            except InputError as problem:
                self.add_error("price_breaks", str(problem))
                continue
            breaks.append((packs, price))
        return breaks
