"""What was ordered, what has come of it, and what is still to come."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import Sum
from django.db.models.functions import Coalesce

from inventory.purchasing.models import DeliveryLine, Order, OrderLine
from studio.values.allocation import divide_half_up


@dataclass(frozen=True, slots=True)
class Progress:
    """One order line and how much of it has come, in thousandths of the material's base unit."""

    line: OrderLine
    received: int

    @property
    def to_come(self) -> int:
        return max(self.line.quantity - self.received, 0)

    @property
    def price_to_come(self) -> int:
        """The part of the line's price (supplier's currency, millionths) that what is still to come should cost."""
        return divide_half_up(self.line.price * self.to_come, self.line.quantity)


@dataclass(frozen=True, slots=True)
class OrderState:
    """An order with the progress of its lines."""

    order: Order
    lines: list[Progress]

    @property
    def has_all_come(self) -> bool:
        return not any(line.to_come for line in self.lines)

    @property
    def is_waiting(self) -> bool:
        return not self.order.is_closed and not self.has_all_come

    def is_late(self, today: date) -> bool:
        """Still to come though its day has passed."""
        return self.is_waiting and self.order.expected_on is not None and self.order.expected_on < today


def progress_of(orders: Iterable[Order]) -> list[OrderState]:
    """The state of each order, in two statements however many there are. Deliveries taken back do not count.

    What came of a material fills the order's lines of it in turn, so that a line added by hand counts as well.
    """
    orders = list(orders)
    numbers = [order.pk for order in orders]
    came = _came(numbers)
    lines: dict[int, list[OrderLine]] = {order.pk: [] for order in orders}
    for line in OrderLine.objects.filter(order__in=numbers).select_related("material").order_by("pk"):
        lines[line.order_id].append(line)
    return [OrderState(order, _filled(lines[order.pk], came)) for order in orders]


def _came(orders: list[int]) -> dict[tuple[int, int], int]:
    """What came of each material for each order."""
    rows = (
        DeliveryLine.objects.filter(delivery__posting__reversed_by__isnull=True)
        .annotate(for_order=Coalesce("order_line__order_id", "delivery__order_id"))
        .filter(for_order__in=orders)
        .order_by()
        .values_list("for_order", "lot__material_id")
        .annotate(total=Sum("quantity"))
    )
    return {(order, material): total for order, material, total in rows}


def _filled(lines: list[OrderLine], came: dict[tuple[int, int], int]) -> list[Progress]:
    last = {line.material_id: line.pk for line in lines}
    progress = []
    for line in lines:
        place = (line.order_id, line.material_id)
        left = came.get(place, 0)
        taken = left if last[line.material_id] == line.pk else min(left, line.quantity)
        came[place] = left - taken
        progress.append(Progress(line, taken))
    return progress
