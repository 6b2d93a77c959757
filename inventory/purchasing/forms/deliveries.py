"""Forms for what comes in: a delivery with its lines, or with a file of them."""

from collections.abc import Mapping
from typing import Any, cast
from urllib.parse import urlencode

from django import forms
from django.urls import reverse, reverse_lazy
from django.utils import timezone
from django.utils.html import format_html
from django.utils.translation import gettext_lazy

from inventory.materials.choices import MaterialChoice, MaterialRowForm
from inventory.materials.models import Material, Supplier
from inventory.materials.packs import LONGEST_CODE, same_gtins
from inventory.materials.queries import pack_with_barcode
from inventory.purchasing.actions.delivery_facts import (
    MOST_PACKS,
    DeliveryHeader,
    LineFacts,
    invoice_currency,
)
from inventory.purchasing.file_import.columns import DELIVERY_LINES
from inventory.purchasing.file_import.reading import open_lines
from inventory.purchasing.incoming import OrderState, Progress
from inventory.purchasing.models import Delivery, Order, OrderLine
from studio.errors import InputError
from studio.imports.checking import OpenTable
from studio.imports.forms import TableForm
from studio.imports.kinds import TableKind
from studio.imports.models import RememberedHeadings
from studio.imports.reading import Sheet
from studio.pages.forms import (
    AskingForm,
    CodeInput,
    DayInput,
    Fieldset,
    KeyedForm,
    MoneyField,
    RateField,
    StudioForm,
)
from studio.pages.formsets import rows_of
from studio.translation import _
from studio.values.money import code_of_sign, round_to_minor
from studio.values.numbers import read_small_whole
from studio.values.quantities import input_text
from studio.values.units import Measure

LONGEST_TYPED = 60
MOST_LINES = 64  # fifteen fields a line: below the thousand fields that one request may carry
SPARE_LINES = 6
# What a delivery's head has besides its supplier, its day, its currency and its order.
ENTERED = (
    "rate", "paid", "rate_on", "carriage", "carriage_shared_by", "duty", "tax", "reference", "close_order",
)  # fmt: skip


class InvoiceForm(KeyedForm):
    """What the lines of a delivery share: the day, the rate, and the costs that are spread over them."""

    received_on = forms.DateField(label=gettext_lazy("Received on"), widget=DayInput)
    rate = RateField(
        label=gettext_lazy("Exchange rate"),
        required=False,
        help_text=gettext_lazy(
            "Only for an invoice in another currency: what one unit of it costs in yours. Every decimal counts."
        ),
    )
    paid = MoneyField(
        label=gettext_lazy("Or what it cost you"),
        required=False,
        help_text=gettext_lazy(
            "Instead of a rate: what your bank statement says you paid for all the lines together. If that included "
            "carriage, leave Carriage blank."
        ),
    )
    rate_on = forms.DateField(
        label=gettext_lazy("Date of the rate or payment"), widget=DayInput, required=False
    )
    carriage = MoneyField(label=gettext_lazy("Carriage"), required=False, example=5_000_000)
    carriage_shared_by = forms.ChoiceField(
        label=gettext_lazy("Share the carriage"),
        choices=Delivery.SharedBy.choices,
        initial=Delivery.SharedBy.VALUE,
    )
    duty = MoneyField(label=gettext_lazy("Duty"), required=False)
    tax = MoneyField(
        label=gettext_lazy("Non-reclaimable tax"),
        required=False,
        help_text=gettext_lazy(
            "Sales tax on the invoice, if you cannot reclaim it. It becomes part of the cost."
        ),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("paid", "carriage", "duty", "tax"):
            self.fields[name].label = f"{self.fields[name].label!s} ({self.studio.currency})"


class DeliveryForm(InvoiceForm, AskingForm):
    """The head of a delivery: from whom, when, in what currency, and the costs that all lines share."""

    supplier = forms.ModelChoiceField(
        label=gettext_lazy("Supplier"), queryset=Supplier.objects.all(), empty_label=gettext_lazy("Choose…")
    )
    new_supplier = forms.CharField(
        label=gettext_lazy("Or a new supplier"),
        max_length=120,
        required=False,
        help_text=gettext_lazy("Its name; the rest can be added later."),
    )
    reference = forms.CharField(label=gettext_lazy("Invoice number"), max_length=60, required=False)
    currency = forms.CharField(
        label=gettext_lazy("Currency of the invoice"),
        max_length=3,
        required=False,
        help_text=gettext_lazy("Three letters. Leave blank to use the supplier's own currency."),
    )
    close_order = forms.BooleanField(
        label=gettext_lazy("Close the order: the rest is not coming"), required=False
    )

    fieldsets = (
        Fieldset(gettext_lazy("Invoice details"), ["supplier", "new_supplier", "received_on", "reference"]),
        Fieldset(
            gettext_lazy("Invoice in another currency"),
            ["currency", "rate", "paid", "rate_on"],
            is_folded=True,
        ),
        Fieldset(gettext_lazy("Shared costs"), ["carriage", "carriage_shared_by", "duty", "tax"]),
    )
    header: DeliveryHeader  # once it is valid

    def __init__(self, *args: Any, order: Order | None = None, may_add: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.order = order
        if may_add and order is None:
            self.fields["supplier"].required = False
        else:
            del self.fields["new_supplier"]
        self.invoice_currency = order.currency if order else self.studio.currency  # of the line prices
        if order is None:
            del self.fields["close_order"]
        else:
            self.fields["supplier"].disabled = True
            self.initial["supplier"] = order.supplier_id

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        supplier, received_on = self._supplier(cleaned), cleaned.get("received_on")
        try:
            usual = supplier or Supplier(currency=self.invoice_currency)
            self.invoice_currency = invoice_currency(cleaned.get("currency", ""), usual)
            if supplier is None or received_on is None:
                return cleaned
            if self.has_error("rate") or self.has_error("paid"):
                return cleaned  # one of them was meant, so that neither is missing
            self.header = DeliveryHeader(
                supplier=supplier,
                received_on=received_on,
                home_currency=self.studio.currency,
                currency=self.invoice_currency,
                order=self.order,
                **{name: cleaned[name] for name in ENTERED if cleaned.get(name) not in (None, "")},
            )
        except InputError as problem:
            self.refuse(problem)
        return cleaned

    def _supplier(self, cleaned: dict[str, Any]) -> Supplier | None:
        """The one that was chosen, or a new one by its name, which is not saved yet."""
        chosen: Supplier | None = cleaned.get("supplier")
        name = " ".join(cleaned.get("new_supplier", "").split())
        if chosen is not None or self.has_error("supplier") or "new_supplier" not in self.fields:
            return chosen
        if not name:
            self.add_error("supplier", _("Choose a supplier, or name a new one."))
            return None
        known = Supplier.objects.filter(name__iexact=name).first()
        written = cleaned.get("currency") or self.studio.currency
        currency = code_of_sign(written, self.studio.currency) or written.upper()
        return known or Supplier(name=name, currency=currency)


class DeliveryFileForm(DeliveryForm, TableForm):
    """The head of a delivery whose lines stand in a table."""

    create_materials = forms.BooleanField(
        label=gettext_lazy("Add new materials"),
        required=False,
        help_text=gettext_lazy("The table then needs a kind for them: paint, medium, sundry …"),
    )

    def __init__(self, *args: Any, may_create: bool, **kwargs: Any) -> None:
        super().__init__(*args, kind=DELIVERY_LINES, **kwargs)
        del self.fields["rate_on"]
        if not may_create:
            del self.fields["create_materials"]

    def opened(self, sheet: Sheet) -> OpenTable[TableKind]:
        remembered = RememberedHeadings.of(DELIVERY_LINES.code)
        today = timezone.localdate()
        return open_lines(
            sheet,
            studio=self.studio,
            today=today,
            remembered=remembered,
            chosen=self.chosen,
            fixed=self.fixed,
        )

    @property
    def may_create(self) -> bool:
        """Whether materials that are not known yet shall be added."""
        return bool(self.cleaned_data.get("create_materials"))

    @property
    def what_was_seen(self) -> str:
        """The table as it was shown, read in this currency, with new materials or without."""
        return f"{super().what_was_seen}-{self.invoice_currency}-{self.may_create}"


class PackForm(StudioForm):
    """So many packs of a size and what they cost together, in `currency` once that is known."""

    pack = forms.CharField(
        label=gettext_lazy("Pack size"),
        max_length=LONGEST_TYPED,
        # Translators: with units as they can be typed.
        widget=forms.TextInput(attrs={"placeholder": gettext_lazy("8 fl oz, 500 g, 10 each")}),
    )
    packs = forms.IntegerField(label=gettext_lazy("Packs"), min_value=1, max_value=MOST_PACKS, initial=1)
    price = MoneyField(label=gettext_lazy("Line price"), example=12_000_000)

    def __init__(self, *args: Any, currency: str | None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        cast("MoneyField", self.fields["price"]).currency = currency


class PackedLineForm(PackForm, MaterialRowForm):
    """So many packs of a material. A barcode chooses the material and the pack size where they are left blank."""

    amount_field = "pack"
    barcode = forms.CharField(
        label=gettext_lazy("Barcode"),
        max_length=LONGEST_CODE,
        required=False,
        widget=CodeInput(attrs={"inputmode": "numeric", "data-packs-url": reverse_lazy("api-packs-list")}),
    )
    field_order = ["barcode"]

    def full_clean(self) -> None:
        has_code = bool(self.is_bound and (self["barcode"].data or "").strip())
        self.fields["material"].required = not has_code and not self.may_name_new
        self.fields["pack"].required = not has_code
        super().full_clean()

    def clean(self) -> dict[str, Any]:
        code = "".join((self.cleaned_data.get("barcode") or "").split())
        if code:
            self._take(code, cast("MaterialChoice", self.fields["material"]).offered)
        return super().clean()

    def _take(self, code: str, offered: Mapping[int, Material]) -> None:
        """Fill in what the barcode says; a problem lands on its field."""
        pack = pack_with_barcode(code)
        chosen = self.cleaned_data.get("material")
        if pack is None:
            self.add_error("barcode", _unknown(code))
        elif pack.material_id not in offered:
            self.add_error("barcode", _("What has this barcode is archived. Use it again first."))
        elif chosen is not None and chosen.pk != pack.material_id:
            advice = _("This is the barcode of {material}.", material=offered[pack.material_id])
            self.add_error("barcode", advice)
        else:
            measure, comma = Measure(offered[pack.material_id].measure), self.formatter.decimal_comma
            self.cleaned_data["material"] = offered[pack.material_id]
            self.cleaned_data["pack"] = self.cleaned_data.get("pack") or input_text(
                pack.pack_size, measure, decimal_comma=comma
            )


def _unknown(code: str) -> str:
    """Says that no pack has a code, and where to add it to one."""
    if not same_gtins(code):
        return _("The check digit does not match. Scan it again, or type all 8 to 14 digits.")
    add = f"{reverse('inventory:pack-new')}?{urlencode({'barcode': code})}"
    words = _("No pack has this barcode. The owner can add it to one:")
    return format_html('{} <a href="{}">{}</a>', words, add, _("Add a pack"))


class DeliveryLineForm(PackedLineForm):
    """One line of a delivery. Blank lines are left out."""

    best_before = forms.DateField(label=gettext_lazy("Best before"), widget=DayInput, required=False)
    place = forms.CharField(label=gettext_lazy("Shelf place"), max_length=60, required=False)
    supplier_batch = forms.CharField(label=gettext_lazy("Batch"), max_length=60, required=False)
    order_line = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(
        self,
        *args: Any,
        order_lines: Mapping[int, OrderLine],
        price_hints: Mapping[int, str] | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.order_lines = order_lines
        answered = read_small_whole(str(self["order_line"].value() or ""))
        if answered and not self.is_bound:  # the price ordered, which follows the packs until one is typed
            self.fields["price"].widget.attrs["data-for-packs"] = str(self["packs"].value())
        self.fields["price"].help_text = (price_hints or {}).get(answered or 0, "")

    def make_facts(self, material: Material, amount: int, cleaned: dict[str, Any]) -> LineFacts:
        ordered = self.order_lines.get(cleaned["order_line"] or 0)
        # A row turned over to another material no longer answers its order line.
        is_answered = ordered is not None and ordered.material_id == material.pk
        return LineFacts(
            material,
            amount,
            order_line=ordered if is_answered else None,
            typed=cleaned["pack"],
            **{name: cleaned[name] for name in ("price", "packs", "best_before", "place", "supplier_batch")},
        )


DeliveryLines = rows_of(DeliveryLineForm, at_most=MOST_LINES)


def still_to_come(state: OrderState, *, decimal_comma: bool) -> list[dict[str, Any]]:
    """First values for the lines of a delivery that answers an order: whole packs of what is due, else one of it."""
    return [
        _first_values(progress, state.order.currency, decimal_comma)
        for progress in state.lines
        if progress.to_come
    ]


def _first_values(progress: Progress, currency: str, decimal_comma: bool) -> dict[str, Any]:
    line, (packs, pack) = progress.line, progress.packs_to_come
    size = input_text(pack, Measure(line.material.measure), decimal_comma=decimal_comma)
    return {
        "material": line.material_id,
        "pack": line.typed or size if pack == line.pack else size,
        "packs": packs,
        "price": round_to_minor(progress.price_to_come, currency) or "",
        "order_line": line.pk,
    }
