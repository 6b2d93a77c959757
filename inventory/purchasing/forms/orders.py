"""Forms for orders, and for reminders to their suppliers."""

from collections.abc import Iterable, Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy

from inventory.materials.models import Material, Supplier
from inventory.materials.queries import Buy
from inventory.purchasing.actions.delivery_facts import PackedLine
from inventory.purchasing.actions.order_lines import OrderLineFacts
from inventory.purchasing.actions.orders import ChaseFacts, OrderFacts
from inventory.purchasing.forms.deliveries import PackedLineForm
from inventory.purchasing.models import Order, OrderLine, SentBy
from inventory.shopping.prices import pack_price
from studio.pages.forms import DayInput, EditForm, KeyedForm, NotesField, StudioForm
from studio.pages.formsets import Rows, rows_of
from studio.translation import _
from studio.values.allocation import divide_half_up
from studio.values.money import money_input_text, round_to_minor
from studio.values.quantities import input_text
from studio.values.units import Measure

MOST_LINES = 100
SPARE_LINES = 6
HEAD = (
    "supplier", "ordered_on", "expected_on", "reference", "deliver_to", "sent_on", "sent_by", "notes",
)  # fmt: skip


class OrderHeadForm(StudioForm):
    """The head of an order."""

    supplier = forms.ModelChoiceField(
        label=gettext_lazy("Supplier"), queryset=Supplier.objects.all(), empty_label=gettext_lazy("Choose…")
    )
    ordered_on = forms.DateField(label=gettext_lazy("Ordered on"), widget=DayInput)
    expected_on = forms.DateField(
        label=gettext_lazy("Expected on"),
        widget=DayInput,
        required=False,
        help_text=gettext_lazy(
            "Leave blank to work it out from how long this supplier's deliveries have taken so far."
        ),
    )
    reference = forms.CharField(
        label=gettext_lazy("Supplier's reference"),
        max_length=60,
        required=False,
        help_text=gettext_lazy("The supplier's own number for it. Yours is given when you save."),
    )
    deliver_to = NotesField(label=gettext_lazy("Deliver to"), max_length=500)
    sent_on = forms.DateField(label=gettext_lazy("Sent on"), widget=DayInput, required=False)
    sent_by = forms.ChoiceField(
        label=gettext_lazy("Sent by"),
        choices=[("", gettext_lazy("Not sent yet")), *SentBy.choices],
        required=False,
    )
    notes = NotesField(rows=2)

    @property
    def order_currency(self) -> str:
        """The currency the line prices are typed in, known once the form has been read."""
        supplier = self.cleaned_data.get("supplier")
        currency: str = supplier.currency if supplier else self.studio.currency
        return currency

    def facts(self, lines: Rows) -> OrderFacts:
        """The order with its lines, once both are valid. Raises InputError."""
        head = {name: self.cleaned_data[name] for name in HEAD}
        return OrderFacts(lines=[row.facts for row in lines.kept], currency=self.order_currency, **head)


class OrderForm(KeyedForm, OrderHeadForm):
    """A new order."""

    field_order = HEAD

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.initial.setdefault("deliver_to", self.studio.delivery_address)


class OrderEditForm(EditForm, OrderHeadForm):
    """Changes to an order. Its supplier and its currency stay."""

    field_order = HEAD

    def __init__(self, *args: Any, order: Order, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.order = order
        self.fields["supplier"].disabled = True
        self.fields["expected_on"].help_text = _(
            "If the supplier gives a new date, choose “Record that you asked” instead: that keeps the earlier date."
        )
        self.fields["reference"].help_text = _("The supplier's own number for it.")

    @property
    def order_currency(self) -> str:
        return self.order.currency


class OrderLineForm(PackedLineForm):
    """One line of an order; `order_line` is the one that it changes. Who sees no money types no price."""

    order_line = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(
        self,
        *args: Any,
        currency: str | None,
        sees_money: bool,
        order_lines: Mapping[int, OrderLine] | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, currency=currency, **kwargs)
        self.order_lines = order_lines or {}
        self.fields["price"].required = False
        self.fields["price"].help_text = "" if currency else _("In the supplier's currency.")
        if not sees_money:
            del self.fields["price"]

    def make_facts(self, material: Material, amount: int, cleaned: dict[str, Any]) -> PackedLine:
        row = self.order_lines.get(cleaned["order_line"] or 0)
        price = cleaned.get("price") or 0
        if "price" not in self.fields and row is not None and row.material_id == material.pk:
            price = _as_priced(row, amount * cleaned["packs"])
        return OrderLineFacts(material, amount, price, cleaned["packs"], cleaned["pack"], row)


def _as_priced(line: OrderLine, quantity: int) -> int:
    """What another quantity costs at a line's price, for people who may not see it."""
    return round_to_minor(divide_half_up(line.price * quantity, line.quantity), line.order.currency)


OrderLines = rows_of(OrderLineForm, at_most=MOST_LINES)


def shopping_lines(
    buys: Iterable[Buy], materials: Mapping[int, Material], *, decimal_comma: bool
) -> list[dict[str, Any]]:
    """Initial lines of an order made from what is suggested to buy."""
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


def lines_of_order(order: Order, *, decimal_comma: bool) -> list[dict[str, Any]]:
    """Initial lines of the form that changes an order."""
    return [
        {
            "order_line": line.pk,
            "material": line.material_id,
            "pack": line.typed
            or input_text(line.pack, Measure(line.material.measure), decimal_comma=decimal_comma),
            "packs": line.packs,
            "price": money_input_text(line.price, order.currency, decimal_comma=decimal_comma)
            if line.price
            else "",
        }
        for line in order.lines.select_related("material").order_by("pk")
    ]


class ChaseForm(KeyedForm):
    """A reminder to the supplier, and the date that it promised."""

    asked_on = forms.DateField(label=gettext_lazy("Reminder date"), widget=DayInput)
    promised_on = forms.DateField(
        label=gettext_lazy("Promised date"),
        widget=DayInput,
        required=False,
        help_text=gettext_lazy(
            "The new delivery date. Leave blank if they gave none; the expected date then stays."
        ),
    )
    note = forms.CharField(
        label=gettext_lazy("Reply"), max_length=300, required=False, widget=forms.Textarea(attrs={"rows": 2})
    )

    def facts(self) -> ChaseFacts:
        """Raises InputError."""
        return ChaseFacts(*(self.cleaned_data[name] for name in ("asked_on", "promised_on", "note")))
