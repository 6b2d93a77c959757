"""Suppliers with what they sell, and lots."""

from typing import Any

from django import forms
from django.contrib import admin
from django.db.models import QuerySet
from django.http import HttpRequest
from django.utils.translation import gettext_lazy

from inventory.ledger.models import Lot
from inventory.materials.models import Material, Supplier, Supply
from inventory.materials.packs import is_valid_gtin
from studio.admin_fields import AnyInline, AnyModelForm, ForOwners, SettingsAdmin, TypedModelForm
from studio.admin_rows import EditedRows
from studio.errors import InputError
from studio.pages.forms import MoneyField
from studio.preferences.context import current_studio
from studio.preferences.formatting import Formatter
from studio.translation import _
from studio.values.money import minor_units


class SupplierForm(TypedModelForm):
    class Meta:
        model = Supplier
        exclude: list[str] = []

    def clean_currency(self) -> str:
        currency = str(self.cleaned_data["currency"]).strip().upper()
        try:
            minor_units(currency)
        except InputError as problem:
            self.add_error("currency", str(problem))
        return currency


class SupplyForm(TypedModelForm):
    pack_size = forms.CharField(
        label=gettext_lazy("In one pack"),
        max_length=60,
        widget=forms.TextInput(attrs={"placeholder": "500 ml", "size": 12}),
    )
    price = MoneyField(
        label=gettext_lazy("Price of a pack"),
        widget=forms.TextInput(attrs={"placeholder": "12.50", "size": 8}),
    )
    currency: str | None = None

    class Meta:
        model = Supply
        fields = ["material", "pack_size", "price", "barcode", "minimum_packs", "is_preferred"]
        widgets = {"barcode": forms.TextInput(attrs={"size": 14, "inputmode": "numeric"})}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        price = self.fields["price"]
        if isinstance(price, MoneyField):
            price.currency = self.currency
        if self.instance.pk:
            self.write_amount("pack_size", self.instance.material.measure)

    def clean_barcode(self) -> str:
        barcode = "".join(str(self.cleaned_data["barcode"]).split())
        if barcode and not is_valid_gtin(barcode):
            self.add_error(
                "barcode",
                _("Its last digit does not fit the others. Scan it again, or type all 8 to 14 digits."),
            )
        return barcode

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        material: Material | None = cleaned.get("material")
        if material is not None and cleaned.get("pack_size"):
            self.read_amount("pack_size", material.measure, density=material.density)
        return cleaned


class SupplyRows(EditedRows):
    """Rows whose fields say their names to a screen reader; the column headings alone do not reach it."""

    def add_fields(self, form: AnyModelForm, index: int | None) -> None:
        super().add_fields(form, index)
        for field in form.fields.values():
            field.widget.attrs.setdefault("aria-label", str(field.label or ""))


class SupplyInline(ForOwners, AnyInline):
    model = Supply
    form = SupplyForm
    formset = SupplyRows
    extra = 2

    def get_queryset(self, request: HttpRequest) -> QuerySet[Supply]:
        return super().get_queryset(request).select_related("material")

    def get_formset(self, request: HttpRequest, obj: Supplier | None = None, **kwargs: Any) -> Any:
        formset: Any = super().get_formset(request, obj, **kwargs)
        formset.form.formatter = Formatter.of(current_studio(request))
        formset.form.currency = obj.currency if obj else None
        material = formset.form.base_fields["material"]
        for icon in ("can_add_related", "can_change_related", "can_delete_related", "can_view_related"):
            setattr(material.widget, icon, False)
        material.widget.widget.attrs["aria-label"] = _("Material")
        # Read once for all rows; left to itself, every row would read the whole list again.
        found = Material.objects.filter(is_free=False).values_list("pk", "name")
        material.choices = [("", "---------"), *found]
        return formset


@admin.register(Supplier)
class SupplierAdmin(SettingsAdmin):
    form = SupplierForm
    inlines = [SupplyInline]
    list_display = ["name", "country", "currency", "lead_time_days"]
    search_fields = ["name"]


class LotForm(TypedModelForm):
    empty_weight = forms.CharField(
        required=False,
        max_length=60,
        help_text=gettext_lazy(
            "Weight of the empty container, such as 42 g, for weighing what is left in it."
        ),
    )

    class Meta:
        model = Lot
        fields = ["opened_on", "best_before", "place", "supplier_batch", "empty_weight"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.write_amount("empty_weight", "mass")

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        self.read_amount("empty_weight", "mass", allow_zero=True)
        return cleaned


@admin.register(Lot)
class LotAdmin(SettingsAdmin):
    """Words about a lot may be put right here. What it holds and cost is the ledger's."""

    form = LotForm
    list_display = ["label", "material", "origin", "received_on", "place"]
    list_filter = ["origin", "material__kind"]
    list_select_related = ["material"]
    search_fields = ["material__name", "place", "supplier_batch"]
    date_hierarchy = "received_on"
    readonly_fields = ["label", "material", "origin", "received_on", "decanted_from"]
    fields = [*readonly_fields, "opened_on", "best_before", "place", "supplier_batch", "empty_weight"]

    def has_add_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Any = None) -> bool:
        return False
