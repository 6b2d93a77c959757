"""Writers for orders: goods asked for, before they come."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from django.db import transaction

from inventory.ledger import posting as ledger
from inventory.materials.models import Supplier
from inventory.purchasing.actions.delivery_facts import PackedLine, finer_than
from inventory.purchasing.models import Order, OrderLine
from studio.accounts.models import User
from studio.errors import InputError, refuse_all
from studio.translation import _


@dataclass(frozen=True, slots=True)
class OrderedLine(PackedLine):
    """One line asked for; its price in millionths of the supplier's currency."""


@dataclass(frozen=True, slots=True)
class OrderFacts:
    """Goods asked for. Raises InputError with everything that is wrong.

    Without an expected day, the supplier's usual lead time gives one.
    """

    supplier: Supplier
    ordered_on: date
    lines: Sequence[OrderedLine]
    expected_on: date | None = None
    reference: str = ""
    notes: str = ""

    def __post_init__(self) -> None:
        problems = []
        if self.expected_on is not None and self.expected_on < self.ordered_on:
            problems.append(
                InputError(_("It cannot come before it is ordered. Check both days."), field="expected_on")
            )
        if not self.lines:
            problems.append(InputError(_("An order needs at least one line."), field="lines"))
        for number, line in enumerate(self.lines, start=1):
            if too_fine := finer_than(self.supplier.currency, line.price):
                problems.append(InputError(too_fine, field="price", line=number))
        refuse_all(problems)


@transaction.atomic
def place_order(*, facts: OrderFacts, by: User | None = None, key: str = "") -> Order:
    """Record an order.

    The same request sent again gets the first's order. Raises KeyReused when it asks for something else.
    """
    ledger.lock()  # an order moves nothing, but two sendings of one form must not pass each other here
    request = ledger.fingerprint(["order", facts])
    earlier = Order.sent_before(by=by, key=key, fingerprint=request)
    if earlier is not None:
        return earlier
    usual = facts.ordered_on + timedelta(days=facts.supplier.lead_time_days)
    order = Order.objects.create(
        supplier=facts.supplier,
        ordered_on=facts.ordered_on,
        expected_on=facts.expected_on or usual,
        reference=facts.reference,
        notes=facts.notes,
        recorded_by=by,
        key=key,
        fingerprint=request,
    )
    OrderLine.objects.bulk_create(
        OrderLine(order=order, material=line.material, quantity=line.quantity, price=line.price)
        for line in facts.lines
    )
    return order


def close_order(*, order: Order) -> Order:
    """Expect nothing more from an order."""
    order.is_closed = True
    order.save(update_fields=["is_closed"])
    return order
