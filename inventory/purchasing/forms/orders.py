"""Forms for orders: what is asked for, before it comes."""

from collections.abc import Iterable, Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from inventory.materials.models import Material, Supplier
from inventory.materials.queries import Buy
from inventory.purchasing.actions.delivery_facts import PackedLine
from inventory.purchasing.actions.orders import OrderFacts
from inventory.purchasing.forms.deliveries import PackedLineForm
from inventory.shopping.prices import pack_price
from studio.pages.forms import DayInput, KeyedForm, NotesField
from studio.pages.formsets import Rows, rows_of
from studio.translation import _
from studio.values.money import money_input_text
from studio.values.quantities import input_text
from studio.values.units import Measure

MOST_LINES = 100
SPARE_LINES = 6


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
        help_text=gettext_lazy("Leave blank to calculate it from the supplier's usual lead time."),
    )
    reference = forms.CharField(label=gettext_lazy("Order number"), max_length=60, required=False)
    notes = NotesField(rows=2)

    @property
    def order_currency(self) -> str:
        """The currency the line prices are typed in, known once the form has been read."""
        supplier = self.cleaned_data.get("supplier")
        currency: str = supplier.currency if supplier else self.studio.currency
        return currency

    def facts(self, lines: Rows) -> OrderFacts:
        """The order with its lines, once both are valid. Raises InputError."""
        cleaned = self.cleaned_data
        return OrderFacts(
            supplier=cleaned["supplier"],
            ordered_on=cleaned["ordered_on"],
            lines=[row.facts for row in lines.kept],
            expected_on=cleaned["expected_on"],
            reference=cleaned["reference"],
            notes=cleaned["notes"],
        )


class OrderLineForm(PackedLineForm):
    """One line of an order. Without sight of money there is no price to type."""

    def __init__(self, *args: Any, currency: str | None, sees_money: bool, **kwargs: Any) -> None:
        super().__init__(*args, currency=currency, **kwargs)
        self.fields["price"].required = False
        self.fields["price"].help_text = "" if currency else _("In the supplier's currency.")
        if not sees_money:
            del self.fields["price"]

    def make_facts(self, material: Material, amount: int, cleaned: dict[str, Any]) -> PackedLine:
        return PackedLine(material, amount, cleaned.get("price") or 0, cleaned["packs"])


OrderLines = rows_of(OrderLineForm, at_most=MOST_LINES)


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
                pack_price(line.supply, line.packs) * line.packs, buy.currency, decimal_comma=decimal_comma
            ),
        }
        for buy in buys
        for line in buy.lines
    ]
