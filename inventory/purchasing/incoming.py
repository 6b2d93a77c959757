"""What was ordered, what has come of it, and what is still to come."""

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from django.db.models import Sum

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
    """The state of each order, in three statements however many there are. Reversed deliveries do not count.

    What came of a material fills the order's lines of it in turn, so that a line added by hand counts as well.
    """
    orders = list(orders)
    numbers = [order.pk for order in orders]
    came = _received_for(numbers)
    lines: dict[int, list[OrderLine]] = {order.pk: [] for order in orders}
    for line in (
        OrderLine.objects.filter(order__in=numbers)
        .select_related("material", "order__supplier")
        .order_by("pk")
    ):
        lines[line.order_id].append(line)
    return [OrderState(order, _filled(lines[order.pk], came)) for order in orders]


def on_order(materials: Collection[int] | None = None) -> dict[int, int]:
    """What open orders still owe of each material: ordered less received by standing deliveries, never below 0."""
    owed: dict[int, int] = defaultdict(int)
    for arrival in arrivals(materials):
        owed[arrival.material] += arrival.quantity
    return dict(owed)


@dataclass(frozen=True, slots=True)
class Arrival:
    """So much of a material that an open order still owes, and the day it is expected; None where nobody said."""

    material: int
    quantity: int
    expected_on: date | None
    ordered_on: date
    supplier: int
    stated_days: int

    @property
    def due_on(self) -> date:
        """The day it is expected, or the supplier's usual days after it was ordered."""
        return self.expected_on or self.ordered_on + timedelta(days=self.stated_days)


def arrivals(materials: Collection[int] | None = None) -> list[Arrival]:
    """What every open order still owes: ordered less received by standing deliveries, never below 0."""
    lines = OrderLine.objects.filter(order__is_closed=False)
    if materials is not None:
        lines = lines.filter(material__in=materials)
    ordered = list(
        lines.order_by()
        .values_list(
            "order_id",
            "material_id",
            "order__expected_on",
            "order__ordered_on",
            "order__supplier_id",
            "order__supplier__lead_time_days",
        )
        .annotate(total=Sum("quantity"))
    )
    came = _received_for({order for order, *_rest in ordered})
    return [
        Arrival(material, max(quantity - came.get((order, material), 0), 0), *rest)
        for order, material, *rest, quantity in ordered
    ]


def _received_for(orders: Collection[int]) -> dict[tuple[int, int], int]:
    """What came for each order of each material, by the order's own line or, without one, by the delivery's order."""
    came: dict[tuple[int, int], int] = defaultdict(int)
    if not orders:
        return came
    standing = DeliveryLine.objects.filter(delivery__posting__reversed_by__isnull=True).order_by()
    by_line = standing.filter(order_line__order__in=orders).values_list(
        "order_line__order_id", "lot__material_id"
    )
    by_delivery = standing.filter(order_line__isnull=True, delivery__order__in=orders).values_list(
        "delivery__order_id", "lot__material_id"
    )
    for rows in (by_line, by_delivery):
        for order, material, quantity in rows.annotate(total=Sum("quantity")):
            came[order, material] += quantity
    return came


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
