"""Lists of deliveries and orders, and of their lines."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy

from inventory.ledger.tables import reversed_badge
from inventory.materials.tables import PriceColumn, material_column
from inventory.purchasing.file_import.reading import FileLine, packs_of
from inventory.purchasing.incoming import OrderState, Progress
from inventory.purchasing.landed_costs import LandedParts
from inventory.purchasing.models import Delivery, DeliveryLine, Order, OrderChase
from inventory.purchasing.order_history import OrderTimes
from inventory.purchasing.supplier_history import YearSum
from studio import translation
from studio.pages.addresses import row_address
from studio.pages.columns import (
    FILE,
    Badge,
    Column,
    DayColumn,
    MoneyColumn,
    NumberColumn,
    QuantityColumn,
    TenthsColumn,
    UnitCostColumn,
)
from studio.pages.tables import Table
from studio.preferences.formatting import Formatter


class DeliveryTable(Table[Delivery]):
    """Deliveries with their `line_count` and `landed` cost."""

    caption = _("Deliveries")
    file_name = "deliveries"
    columns = (
        DayColumn(
            "day",
            _("Received"),
            lambda row: row.received_on,
            link=lambda row: row_address("inventory:delivery", row.pk),
            hidden_words=lambda row: translation._("delivery {number}", number=row.pk),
            badge=lambda row: reversed_badge(row.posting),
        ),
        Column("supplier", _("Supplier"), lambda row: row.supplier.name, css="bare"),
        Column("reference", _("Invoice"), lambda row: row.reference),
        NumberColumn("lines", _("Lines"), lambda row: row.line_count),
        MoneyColumn(
            "cost",
            _("Landed cost"),
            lambda row: row.landed or 0,
            link=lambda row: row_address("inventory:posting", row.posting_id),
            term="landed-cost",
            css="number beside",
        ),
        Column(
            "state", _("Status"), lambda row: "", badge=lambda row: reversed_badge(row.posting), only_on=FILE
        ),
    )


@dataclass(frozen=True, slots=True)
class DeliveryLineRow:
    """One line of a delivery; `parts` are what makes up its landed cost, `changes` those of its price, in words."""

    line: DeliveryLine
    as_read: str  # how its packs were typed and understood
    parts: LandedParts
    changes: Sequence[str] = ()

    @property
    def ordered_as(self) -> str:
        """The packs that were ordered, where others came."""
        ordered = self.line.order_line
        if ordered is None or ordered.pack == self.line.quantity // self.line.packs:
            return ""
        return packs_of(ordered.packs, ordered.pack_in_words)


class DeliveryLineTable(Table[DeliveryLineRow]):
    caption = _("Lines of the delivery, with the landed cost of each")
    columns = (
        Column(
            "material",
            _("Material"),
            lambda row: f"{row.line.lot.material.name}, {row.line.lot.label}",
            colour=lambda row: row.line.lot.material.colour,
            template="deliveries/line_heading.html",
        ),
        TenthsColumn(
            "received", _("Received"), lambda row: (row.line.quantity, row.line.lot.material.measure)
        ),
        PriceColumn("invoice", _("Invoice"), lambda row: (row.line.price, row.line.delivery.currency)),
        MoneyColumn("price", _("Price"), lambda row: row.parts.price),
        MoneyColumn("carriage", _("Carriage"), lambda row: row.parts.carriage),
        MoneyColumn("duty", _("Duty"), lambda row: row.parts.duty),
        MoneyColumn("tax", _("Tax"), lambda row: row.parts.tax),
        MoneyColumn(
            "landed",
            _("Landed cost"),
            lambda row: row.line.landed,
            link=lambda row: row_address("inventory:posting", row.line.delivery.posting_id),
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


def order_title(order: Order) -> str:
    return f"{order}, {order.reference}" if order.reference else str(order)


def order_badge(state: OrderState) -> Badge:
    if state.has_all_come:
        return "good", _("All received")
    if state.order.is_closed:
        return "note", _("Closed")
    if state.is_late(timezone.localdate()):
        return "low", _("Late")
    return "wait", _("Received in part") if state.has_begun_to_come else _("On order")


def _lines_received(row: OrderState) -> str:
    received = sum(not line.to_come for line in row.lines)
    return translation._("{received} of {lines}", received=received, lines=len(row.lines))


class DueColumn(Column[OrderState]):
    """What has not come yet, material by material; nothing of a closed order."""

    def text(self, value: Any, formatter: Formatter) -> str:
        return "; ".join(
            f"{formatter.short_quantity(each.to_come, each.line.material.measure)} {each.line.material.name}"
            for each in value
        )


class OrderTable(Table[OrderState]):
    caption = _("Orders")
    file_name = "orders"
    css = "is-brief"
    columns = (
        Column(
            "order",
            pgettext_lazy("noun", "Order"),
            lambda row: order_title(row.order),
            link=lambda row: row_address("inventory:order", row.order.pk),
        ),
        Column("supplier", _("Supplier"), lambda row: row.order.supplier.name),
        DayColumn("ordered", _("Ordered"), lambda row: row.order.ordered_on),
        DayColumn("expected", _("Expected"), lambda row: row.order.expected_on),
        NumberColumn("late", _("Days late"), lambda row: row.days_late(timezone.localdate()) or None),
        DueColumn("due", _("Outstanding"), lambda row: row.still_due or None),
        Column("received", _("Lines received"), _lines_received),
        Column("state", _("Status"), lambda row: "", badge=order_badge),
    )

    def row_css(self, row: OrderState) -> str:
        return "is-low" if row.is_late(timezone.localdate()) else ""


class OrderLineTable(Table[Progress]):
    caption = _("Lines of the order, and what has been received")
    file_name = "order"
    columns = (
        material_column(lambda row: row.line.material),
        Column("packs", _("Packs"), lambda row: packs_of(row.line.packs, row.line.pack_in_words)),
        TenthsColumn("ordered", _("Ordered"), lambda row: (row.line.quantity, row.line.material.measure)),
        TenthsColumn("received", _("Received"), lambda row: (row.received, row.line.material.measure)),
        TenthsColumn("to_come", _("Outstanding"), lambda row: (row.to_come, row.line.material.measure)),
        PriceColumn("price", _("Line price"), lambda row: (row.line.price, row.line.order.currency)),
    )


class ChaseTable(Table[OrderChase]):
    caption = _("Reminders to the supplier, and its replies")
    columns = (
        DayColumn("asked", _("Reminder date"), lambda row: row.asked_on),
        DayColumn("before", _("Expected before"), lambda row: row.expected_before),
        DayColumn("promised", _("Promised date"), lambda row: row.promised_on),
        Column("note", _("Reply"), lambda row: row.note),
        Column("by", _("By"), lambda row: row.recorded_by.get_username() if row.recorded_by else ""),
    )


class OrderTimesTable(Table[OrderTimes]):
    caption = _("Promised and actual lead times by order")
    columns = (
        Column(
            "order",
            pgettext_lazy("noun", "Order"),
            lambda row: translation._("Order {number}", number=row.number),
            link=lambda row: row_address("inventory:order", row.order),
            badge=lambda row: ("wait", _("Open")) if row.is_open else None,
        ),
        DayColumn("ordered", _("Ordered"), lambda row: row.ordered_on),
        DayColumn("promised", _("First promised date"), lambda row: row.first_promised_on),
        DayColumn("received", _("Last received"), lambda row: max(row.received_on, default=None)),
        NumberColumn("taken", _("Lead time (days)"), lambda row: max(row.days_taken, default=None)),
        NumberColumn("late", _("Days late"), lambda row: row.days_late(timezone.localdate()) or None),
        NumberColumn("asked", _("Reminders"), lambda row: row.chases or None),
    )


class YearTable(Table[YearSum]):
    caption = _("Deliveries by year")
    columns = (
        Column("year", _("Year"), lambda row: str(row.year)),
        NumberColumn("deliveries", _("Deliveries"), lambda row: row.deliveries),
        MoneyColumn("landed", _("Landed cost"), lambda row: row.landed),
    )


class FileLineTable(Table[FileLine]):
    caption = _("Lines of the file as read")
    columns = (
        Column(
            "material",
            _("Material"),
            lambda row: row.facts.material.name,
            badge=lambda row: None if row.facts.material.pk else ("note", _("New")),
        ),
        NumberColumn("line", _("Line"), lambda row: row.number),
        Column("read", _("As read"), lambda row: row.as_read),
        QuantityColumn(
            "quantity", _("Quantity"), lambda row: (row.facts.quantity, row.facts.material.measure)
        ),
        DayColumn("best_before", _("Best before"), lambda row: row.facts.best_before),
        Column(
            "place",
            _("Place and batch"),
            lambda row: ", ".join(filter(None, [row.facts.place, row.facts.supplier_batch])),
        ),
        PriceColumn("price", _("Line price"), lambda row: (row.facts.price, row.currency)),
    )
