"""Forms for orders: what is asked for, before it comes."""

from collections.abc import Iterable, Mapping
from typing import Any

from django import forms
from django.forms import BaseFormSet, formset_factory
from django.utils.translation import gettext_lazy

from inventory.materials.choices import MaterialChoice
from inventory.materials.models import Material, Supplier
from inventory.purchasing.actions.orders import OrderedLine
from inventory.reordering.queries import Buy
from studio.errors import InputError
from studio.pages.forms import DayInput, KeyedForm, MoneyField, StudioForm
from studio.translation import _
from studio.values.money import money_input_text
from studio.values.quantities import Quantity, input_text
from studio.values.units import Measure

MOST_LINES = 100


class OrderForm(KeyedForm):
    """The head of an order."""

    supplier = forms.ModelChoiceField(
        label=gettext_lazy("Supplier"), queryset=Supplier.objects.all(), empty_label=gettext_lazy("Choose…")
    )
    ordered_on = forms.DateField(label=gettext_lazy("Ordered on"), widget=DayInput)
    expected_on = forms.DateField(
        label=gettext_lazy("Expected on"),
        widget=DayInput,
        required=False,
        help_text=gettext_lazy("Left empty: worked out from the supplier's usual days."),
    )
    reference = forms.CharField(label=gettext_lazy("Order number"), max_length=60, required=False)
    notes = forms.CharField(
        label=gettext_lazy("Notes"), max_length=2000, required=False, widget=forms.Textarea(attrs={"rows": 2})
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        ordered, expected = cleaned.get("ordered_on"), cleaned.get("expected_on")
        if ordered and expected and expected < ordered:
            self.add_error("expected_on", _("It cannot come before it is ordered. Check both days."))
        return cleaned

    @property
    def order_currency(self) -> str:
        """The currency the line prices are typed in, known once the form has been read."""
        supplier = self.cleaned_data.get("supplier")
        currency: str = supplier.currency if supplier else self.studio.currency
        return currency


class OrderLineForm(StudioForm):
    """One line of an order. Without sight of money there is no price to type."""

    material = MaterialChoice(label=gettext_lazy("Material"))
    pack = forms.CharField(
        label=gettext_lazy("In one pack"),
        max_length=60,
        # Translators: with units as they can be typed.
        widget=forms.TextInput(attrs={"placeholder": gettext_lazy("8 fl oz, 500 g, 10 each")}),
    )
    packs = forms.IntegerField(label=gettext_lazy("Packs"), min_value=1, max_value=100_000, initial=1)
    price = MoneyField(label=gettext_lazy("Line price"), required=False, example="12.50")

    def __init__(
        self,
        *args: Any,
        materials: Mapping[int, Material],
        choices: list[tuple[str, Any]],
        currency: str | None,
        sees_money: bool,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.quantity = 0
        material, price = self.fields["material"], self.fields["price"]
        if isinstance(material, MaterialChoice) and isinstance(price, MoneyField):
            material.offer(materials, choices)
            price.currency = currency
            price.help_text = "" if currency else _("In the supplier's currency.")
        if not sees_money:
            del self.fields["price"]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        material, pack, packs = cleaned.get("material"), cleaned.get("pack"), cleaned.get("packs")
        if material is not None and pack and packs:
            try:
                amount = self.reading(pack, material.measure, density=material.density).quantity
                self.quantity = Quantity(amount.measure, amount.amount * packs).amount
            except InputError as problem:
                self.add_error("pack", str(problem))
        return cleaned

    def line(self) -> OrderedLine:
        """The line for the writer."""
        return OrderedLine(self.cleaned_data["material"], self.quantity, self.cleaned_data.get("price") or 0)


OrderLines = formset_factory(
    OrderLineForm, extra=6, can_delete=True, max_num=MOST_LINES, absolute_max=MOST_LINES, validate_max=True
)


def ordered_lines(formset: "BaseFormSet[OrderLineForm]") -> list[OrderedLine]:
    """The lines that say something and are not removed."""
    return [row.line() for row in formset.forms if row.has_changed() and row not in formset.deleted_forms]


def shopping_lines(
    buys: Iterable[Buy], materials: Mapping[int, Material], *, decimal_comma: bool
) -> list[dict[str, Any]]:
    """First values for the lines of an order that fills the shelf again."""
    return [
        {
            "material": buy.material,
            "pack": input_text(
                line.supply.pack_size, Measure(materials[buy.material].measure), decimal_comma=decimal_comma
            ),
            "packs": line.packs,
            "price": money_input_text(
                line.supply.price * line.packs, buy.currency, decimal_comma=decimal_comma
            ),
        }
        for buy in buys
        for line in buy.lines
    ]
