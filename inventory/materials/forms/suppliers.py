"""A supplier, and a pack that it sells, as they are typed."""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy

from inventory.materials.choices import MaterialChoice, by_kind
from inventory.materials.models import Material, Supplier, Supply
from studio.errors import InputError
from studio.pages.forms import RowForm
from studio.preferences.locale_choices import CurrencyInput
from studio.translation import _
from studio.values.money import money_input_text, read_money
from studio.values.quantities import input_text
from studio.values.units import Measure


class SupplierForm(RowForm):
    """Everything known of one supplier."""

    currency = forms.CharField(
        label=gettext_lazy("Currency"),
        max_length=3,
        widget=CurrencyInput,
        help_text=gettext_lazy("The currency of its prices."),
    )
    notes = forms.CharField(
        label=gettext_lazy("Notes"),
        required=False,
        max_length=5_000,
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    class Meta:
        model = Supplier
        fields = (
            "name", "country", "currency", "lead_time_days", "lead_time_variation_days", "email", "notes",
        )  # fmt: skip
        labels = {"lead_time_days": gettext_lazy("Lead time (days)")}
        help_texts = {
            "lead_time_days": gettext_lazy("Usual days from order to delivery."),
            "lead_time_variation_days": gettext_lazy(
                "How far it usually differs from that (standard deviation)."
            ),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk is None:
            self.initial["currency"] = self.studio.currency

    def clean_currency(self) -> str:
        return str(self.cleaned_data["currency"]).strip().upper()


class PackForm(RowForm):
    """One pack of a material at a supplier's price. Its supplier stays."""

    supplier = forms.ModelChoiceField(
        Supplier.objects.all(), label=gettext_lazy("Supplier"), empty_label=gettext_lazy("Choose…")
    )
    material = MaterialChoice(label=gettext_lazy("Material"))
    pack_size = forms.CharField(
        label=gettext_lazy("Pack size"), max_length=60, help_text=gettext_lazy("As on the label: 500 ml.")
    )
    price = forms.CharField(
        label=gettext_lazy("Pack price"),
        max_length=60,
        help_text=gettext_lazy("In the supplier's currency: 12.50."),
    )
    barcode = forms.CharField(
        label=gettext_lazy("Barcode"),
        max_length=30,
        required=False,
        widget=forms.TextInput(attrs={"inputmode": "numeric"}),
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
            self.fields["supplier"].disabled = True
        if isinstance(supplier, Supplier):
            self.fields["price"].help_text = _("In {currency}: 12.50.", currency=supplier.currency)

    def clean_barcode(self) -> str:
        return "".join(str(self.cleaned_data["barcode"]).split())

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        material: Material | None = cleaned.get("material")
        supplier: Supplier | None = cleaned.get("supplier")
        if material is not None:
            cleaned["pack_size"] = self.read_amount("pack_size", material.measure, density=material.density)
        if supplier is not None and cleaned.get("price"):
            try:
                cleaned["price"] = read_money(
                    cleaned["price"], supplier.currency, decimal_comma=self.formatter.decimal_comma
                )
            except InputError as problem:
                self.add_error("price", ValidationError(str(problem)))
        return cleaned
