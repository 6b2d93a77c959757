"""A supplier, and a pack that it sells, as they are typed."""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy

from inventory.materials.actions import MOST, PackFacts, SupplierFacts
from inventory.materials.choices import MaterialChoice, by_kind
from inventory.materials.models import Material, Supplier, Supply
from studio.errors import InputError
from studio.pages.forms import EditForm
from studio.preferences.locale_choices import CurrencyInput
from studio.translation import _
from studio.values.money import money_input_text, read_money
from studio.values.quantities import input_text
from studio.values.units import Measure

SUPPLIER = (
    "name", "country", "currency", "lead_time_days", "lead_time_variation_days", "email", "notes",
)  # fmt: skip


class SupplierForm(EditForm):
    """Everything known of one supplier."""

    name = forms.CharField(label=gettext_lazy("Name"), max_length=120)
    country = forms.CharField(label=gettext_lazy("Country"), max_length=60, required=False)
    currency = forms.CharField(
        label=gettext_lazy("Currency"),
        max_length=3,
        widget=CurrencyInput,
        help_text=gettext_lazy("The currency of its prices."),
    )
    lead_time_days = forms.IntegerField(
        label=gettext_lazy("Lead time (days)"),
        min_value=0,
        max_value=MOST,
        initial=7,
        help_text=gettext_lazy("Usual days from order to delivery."),
    )
    lead_time_variation_days = forms.IntegerField(
        label=gettext_lazy("Lead-time variation (days)"),
        min_value=0,
        max_value=MOST,
        initial=0,
        help_text=gettext_lazy("How far it usually differs from that (standard deviation)."),
    )
    email = forms.EmailField(label=gettext_lazy("Email"), required=False, max_length=254)
    notes = forms.CharField(
        label=gettext_lazy("Notes"),
        required=False,
        max_length=5_000,
        widget=forms.Textarea(attrs={"rows": 3}),
    )

    def __init__(self, *args: Any, supplier: Supplier | None = None, seen: int = 0, **kwargs: Any) -> None:
        known = {name: getattr(supplier, name) for name in SUPPLIER} if supplier else {}
        kwargs.setdefault("initial", {"seen": seen, "currency": kwargs["studio"].currency} | known)
        super().__init__(*args, **kwargs)

    def clean_currency(self) -> str:
        return str(self.cleaned_data["currency"]).strip().upper()

    def facts(self) -> SupplierFacts:
        """Raises InputError."""
        return SupplierFacts(**{name: self.cleaned_data[name] for name in SUPPLIER})


class PackForm(EditForm):
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
    minimum_packs = forms.IntegerField(
        label=gettext_lazy("Minimum order (packs)"), min_value=1, max_value=MOST, initial=1
    )
    is_preferred = forms.BooleanField(
        label=gettext_lazy("Preferred"),
        required=False,
        help_text=gettext_lazy("Order from this supplier first, even where another one is cheaper."),
    )

    def __init__(
        self, *args: Any, materials: Mapping[int, Material], pack: Supply | None = None, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        choice = self.fields["material"]
        if isinstance(choice, MaterialChoice):
            choice.offer(materials, by_kind(materials.values()))
        if pack is not None:
            self._fill(pack)
        supplier = pack.supplier if pack else self.initial.get("supplier")
        if isinstance(supplier, Supplier):
            self.fields["price"].help_text = _("In {currency}: 12.50.", currency=supplier.currency)

    def _fill(self, pack: Supply) -> None:
        comma = self.formatter.decimal_comma
        names = ("supplier", "material", "barcode", "minimum_packs", "is_preferred")
        self.initial.update({name: pack.serializable_value(name) for name in names})
        self.initial["pack_size"] = input_text(
            pack.pack_size, Measure(pack.material.measure), decimal_comma=comma
        )
        self.initial["price"] = money_input_text(pack.price, pack.supplier.currency, decimal_comma=comma)
        self.fields["supplier"].disabled = True

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

    def facts(self) -> PackFacts:
        """Raises InputError."""
        cleaned = self.cleaned_data
        names = ("supplier", "material", "pack_size", "price", "barcode", "minimum_packs", "is_preferred")
        return PackFacts(**{name: cleaned[name] for name in names})
