"""Lists of deliveries and orders, and of their lines."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.urls import reverse
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from inventory.purchasing.file_import.reading import FileLine
from inventory.purchasing.incoming import OrderState, Progress
from inventory.purchasing.landed_costs import LandedParts
from inventory.purchasing.models import Delivery, DeliveryLine, Order
from studio import translation
from studio.pages.columns import (
    FILE,
    Badge,
    Column,
    DayColumn,
    MoneyColumn,
    NumberColumn,
    QuantityColumn,
    UnitCostColumn,
)
from studio.pages.tables import Table

REVERSED: Badge = ("stop", _("Reversed"))


def _reversed(delivery: Delivery) -> Badge | None:
    return REVERSED if hasattr(delivery.posting, "reversed_by") else None


class DeliveryTable(Table[Delivery]):
    """Deliveries with their `line_count` and `landed` cost."""

    caption = _("Deliveries")
    file_name = "deliveries"
    columns = (
        DayColumn(
            "day",
            _("Received"),
            lambda row: row.received_on,
            link=lambda row: reverse("inventory:delivery", args=[row.pk]),
            hidden_words=lambda row: translation._("delivery {number}", number=row.pk),
            badge=_reversed,
        ),
        Column("supplier", _("Supplier"), lambda row: row.supplier.name),
        Column("reference", _("Invoice"), lambda row: row.reference),
        NumberColumn("lines", _("Lines"), lambda row: row.line_count),
        MoneyColumn(
            "cost",
            _("Landed cost"),
            lambda row: row.landed or 0,
            link=lambda row: reverse("inventory:posting", args=[row.posting_id]),
        ),
        Column("state", _("Status"), lambda row: "", badge=_reversed, only_on=FILE),
    )


@dataclass(frozen=True, slots=True)
class DeliveryLineRow:
    """One line of a delivery; `price` as the invoice has it, `parts` what makes up its landed cost."""

    line: DeliveryLine
    as_read: str
    price: str = ""
    parts: LandedParts | None = None


class DeliveryLineTable(Table[DeliveryLineRow]):
    caption = _("Lines of the delivery, with the landed cost of each")
    columns = (
        Column(
            "material",
            _("Material"),
            lambda row: f"{row.line.lot.material.name}, {row.line.lot.label}",
            template="deliveries/line_heading.html",
        ),
        QuantityColumn(
            "received", _("Received"), lambda row: (row.line.quantity, row.line.lot.material.measure)
        ),
        Column("invoice", _("Invoice"), lambda row: row.price, css="number", needs_money=True),
        MoneyColumn("price", _("Price"), lambda row: row.parts.price),
        MoneyColumn("carriage", _("Carriage"), lambda row: row.parts.carriage),
        MoneyColumn("duty", _("Duty"), lambda row: row.parts.duty),
        MoneyColumn("tax", _("Tax"), lambda row: row.parts.tax),
        MoneyColumn(
            "landed",
            _("Landed cost"),
            lambda row: row.line.landed,
            link=lambda row: reverse("inventory:posting", args=[row.line.delivery.posting_id]),
        ),
        UnitCostColumn(
            "unit_cost",
            _("Unit cost"),
            lambda row: (row.line.landed, row.line.quantity, row.line.lot.material.measure),
        ),
    )


def columns_left_out(delivery: Delivery, *, is_foreign: bool) -> list[str]:
    """The columns of a delivery's lines that would be empty."""
    amounts = {"invoice": is_foreign, "carriage": delivery.carriage, "duty": delivery.duty}
    return [key for key, amount in {**amounts, "tax": delivery.tax}.items() if not amount]


@dataclass(frozen=True, slots=True)
class OrderRow:
    """One order with what has come of it."""

    state: OrderState
    today: date

    @property
    def order(self) -> Order:
        return self.state.order

    @property
    def title(self) -> str:
        return order_title(self.order)


def order_title(order: Order) -> str:
    title = translation._("Order {number}", number=order.pk)
    return f"{title}, {order.reference}" if order.reference else title


def order_badge(state: OrderState, today: date) -> Badge:
    if state.order.is_closed:
        return "note", _("Closed")
    if state.has_all_come:
        return "good", _("All received")
    return ("low", _("Late")) if state.is_late(today) else ("wait", _("On order"))


def _lines_received(row: OrderRow) -> str:
    lines: Sequence[Progress] = row.state.lines
    received = sum(not line.to_come for line in lines)
    return translation._("{received} of {lines}", received=received, lines=len(lines))


class OrderTable(Table[OrderRow]):
    caption = _("Orders")
    file_name = "orders"
    columns = (
        Column(
            "order",
            pgettext_lazy("noun", "Order"),
            lambda row: row.title,
            link=lambda row: reverse("inventory:order", args=[row.order.pk]),
        ),
        Column("supplier", _("Supplier"), lambda row: row.order.supplier.name),
        DayColumn("ordered", _("Ordered"), lambda row: row.order.ordered_on),
        DayColumn("expected", _("Expected"), lambda row: row.order.expected_on),
        Column("received", _("Lines received"), _lines_received),
        Column("state", _("Status"), lambda row: "", badge=lambda row: order_badge(row.state, row.today)),
    )

    def row_css(self, row: OrderRow) -> str:
        return "is-low" if row.state.is_late(row.today) else ""


@dataclass(frozen=True, slots=True)
class OrderLineRow:
    """One line of an order; `price` in the supplier's currency, written out."""

    progress: Progress
    price: str

    @property
    def measure(self) -> str:
        return self.progress.line.material.measure


class OrderLineTable(Table[OrderLineRow]):
    caption = _("Lines of the order, and what has been received")
    file_name = "order"
    columns = (
        Column(
            "material",
            _("Material"),
            lambda row: row.progress.line.material.name,
            link=lambda row: reverse("inventory:material", args=[row.progress.line.material_id]),
        ),
        QuantityColumn("ordered", _("Ordered"), lambda row: (row.progress.line.quantity, row.measure)),
        QuantityColumn("received", _("Received"), lambda row: (row.progress.received, row.measure)),
        QuantityColumn("to_come", _("To come"), lambda row: (row.progress.to_come, row.measure)),
        Column("price", _("Line price"), lambda row: row.price, css="number", needs_money=True),
    )


@dataclass(frozen=True, slots=True)
class FileLineRow:
    """One line of a file as it was read; `price` in the invoice's currency, written out."""

    line: FileLine
    price: str

    @property
    def as_read(self) -> str:
        packs = self.line.facts.packs
        if packs == 1:
            return self.line.understood
        return translation.ngettext(
            "{n} pack of {size}", "{n} packs of {size}", packs, n=packs, size=self.line.understood
        )


class FileLineTable(Table[FileLineRow]):
    caption = _("Lines of the file, as they were read")
    columns = (
        Column(
            "material",
            _("Material"),
            lambda row: row.line.facts.material.name,
            badge=lambda row: None if row.line.facts.material.pk else ("note", _("New")),
        ),
        NumberColumn("line", _("Line"), lambda row: row.line.number),
        Column("read", _("As read"), lambda row: row.as_read),
        QuantityColumn(
            "quantity", _("Quantity"), lambda row: (row.line.facts.quantity, row.line.facts.material.measure)
        ),
        DayColumn("best_before", _("Best before"), lambda row: row.line.facts.best_before),
        Column(
            "place",
            _("Place and batch"),
            lambda row: ", ".join(filter(None, [row.line.facts.place, row.line.facts.supplier_batch])),
        ),
        Column("price", _("Line price"), lambda row: row.price, css="number", needs_money=True),
    )


@dataclass(frozen=True, slots=True)
class ShareRow:
    """What one lot, pour or reason takes of a corrected cost."""

    place: str
    name: str
    address: str
    money: int


class ShareTable(Table[ShareRow]):
    caption = _("Where the difference goes")
    columns = (
        Column("place", _("Account"), lambda row: row.place),
        Column("name", _("Where"), lambda row: row.name, link=lambda row: row.address),
        MoneyColumn("money", _("Amount"), lambda row: row.money),
    )
