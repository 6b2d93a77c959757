"""Writers for orders: goods asked for, before they come."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.db import transaction

from inventory.errors import InventoryError
from inventory.models import Material, Order, OrderLine, Supplier


@dataclass(frozen=True, slots=True)
class OrderedLine:
    """So much of one material asked for (thousandths), at a line price in the supplier's currency (millionths)."""

    material: Material
    quantity: int
    price: int = 0


@transaction.atomic
def place_order(
    *,
    supplier: Supplier,
    lines: Sequence[OrderedLine],
    on: date,
    expected_on: date | None = None,
    reference: str = "",
    notes: str = "",
) -> Order:
    """Record an order. Without an expected day, the supplier's usual lead time gives one."""
    if not lines or any(line.quantity <= 0 or line.price < 0 for line in lines):
        raise InventoryError(
            "An order needs at least one line, each with a quantity above zero and a price of zero or more."
        )
    order = Order.objects.create(
        supplier=supplier,
        ordered_on=on,
        expected_on=expected_on or on + timedelta(days=supplier.lead_time_days),
        reference=reference,
        notes=notes,
    )
    OrderLine.objects.bulk_create(
        OrderLine(order=order, material=line.material, quantity=line.quantity, price=line.price)
        for line in lines
    )
    return order


def close_order(*, order: Order) -> Order:
    """Expect nothing more from an order."""
    order.is_closed = True
    order.save(update_fields=["is_closed"])
    return order
