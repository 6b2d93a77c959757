"""Writers for orders: goods asked for, before they come."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from inventory.ledger.posting import open_ledger
from inventory.materials.models import Supplier
from inventory.purchasing.actions.delivery_facts import PackedLine, finer_than
from inventory.purchasing.models import Order, OrderLine
from studio.errors import InputError, refuse_all
from studio.submission import Submission
from studio.translation import _


@dataclass(frozen=True, slots=True)
class OrderFacts:
    """Goods asked for; line prices are in the supplier's currency. Raises InputError with everything that is wrong.

    Without an expected day, the supplier's usual lead time gives one.
    """

    supplier: Supplier
    ordered_on: date
    lines: Sequence[PackedLine]
    expected_on: date | None = None
    reference: str = ""
    notes: str = ""

    def __post_init__(self) -> None:
        problems = []
        if self.expected_on is not None and self.expected_on < self.ordered_on:
            problems.append(
                InputError(_("The expected date is before the order date. Check both."), field="expected_on")
            )
        if not self.lines:
            problems.append(InputError(_("An order needs at least one line."), field="lines"))
        for number, line in enumerate(self.lines, start=1):
            if too_fine := finer_than(self.supplier.currency, line.price):
                problems.append(InputError(too_fine, field="price", line=number))
        refuse_all(problems)


def place_order(*, facts: OrderFacts, submission: Submission) -> Order:
    """Record an order."""
    # An order moves nothing, but two sendings of one form must not pass each other here.
    with open_ledger(submission, facts=["order", facts]) as ledger:
        earlier = ledger.earlier_record(Order)
        if earlier is not None:
            return earlier
        usual = facts.ordered_on + timedelta(days=facts.supplier.lead_time_days)
        order = Order.objects.create(
            supplier=facts.supplier,
            ordered_on=facts.ordered_on,
            expected_on=facts.expected_on or usual,
            reference=facts.reference,
            notes=facts.notes,
            recorded_by=submission.by,
            key=submission.key,
            fingerprint=ledger.fingerprint,
        )
        OrderLine.objects.bulk_create(
            OrderLine(order=order, material=line.material, quantity=line.quantity, price=line.price)
            for line in facts.lines
        )
        ledger.touch(line.material.pk for line in facts.lines)
        return order


def close_order(*, order: Order, submission: Submission) -> Order:
    """Expect nothing more from an order."""
    with open_ledger(submission) as ledger:
        order.is_closed = True
        order.save(update_fields=["is_closed"])
        ledger.touch(order.lines.values_list("material_id", flat=True))
        return order
