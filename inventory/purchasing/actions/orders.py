"""Writers for orders: goods asked for, before they come."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.db import transaction

from inventory.errors import InventoryError
from inventory.ledger import posting as ledger
from inventory.materials.models import Material, Supplier
from inventory.purchasing.models import Order, OrderLine
from studio.accounts.models import User
from studio.translation import _


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
    by: User | None = None,
    key: str = "",
) -> Order:
    """Record an order. Without an expected day, the supplier's usual lead time gives one.

    The same request sent again gets the first's order. Raises KeyReused when it asks for something else.
    """
    ledger.lock()  # an order moves nothing, but two sendings of one form must not pass each other here
    request = ledger.fingerprint(["order", supplier, lines, on, expected_on, reference, notes])
    earlier = Order.sent_before(by=by, key=key, fingerprint=request)
    if earlier is not None:
        return earlier
    if not lines or any(line.quantity <= 0 or line.price < 0 for line in lines):
        raise InventoryError(
            _(
                "An order needs at least one line, each with a quantity above zero "
                "and a price of zero or more."
            )
        )
    order = Order.objects.create(
        supplier=supplier,
        ordered_on=on,
        expected_on=expected_on or on + timedelta(days=supplier.lead_time_days),
        reference=reference,
        notes=notes,
        recorded_by=by,
        key=key,
        fingerprint=request,
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
