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
    def packs_to_come(self) -> tuple[int, int]:
        """What is still to come as packs: how many, and what one holds. One of it all where it is no whole packs."""
        packs, over = divmod(self.to_come, self.line.pack)
        return (1, self.to_come) if over else (packs, self.line.pack)

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

    @property
    def still_due(self) -> list[Progress]:
        """The lines of which something is still expected."""
        return [line for line in self.lines if line.to_come] if self.is_waiting else []

    @property
    def has_begun_to_come(self) -> bool:
        return any(line.received for line in self.lines)

    def is_late(self, today: date) -> bool:
        """Still to come though its day has passed."""
        return self.days_late(today) > 0

    def days_late(self, today: date) -> int:
        """Days since it was expected; 0 where it has come, is closed, or is not due yet."""
        expected = self.order.expected_on
        return max((today - expected).days, 0) if self.is_waiting and expected else 0


def progress_of(orders: Iterable[Order]) -> list[OrderState]:
    """The state of each order, in three statements however many there are. Reversed deliveries do not count.

    What came for a line fills that line. What came beyond it, or of its material without naming a line, fills the
    order's other lines of that material in turn, so that a line added by hand counts as well.
    """
    orders = list(orders)
    came = _received_for([order.pk for order in orders])
    lines: dict[int, list[OrderLine]] = {order.pk: [] for order in orders}
    for line in (
        OrderLine.objects.filter(order__in=orders)
        .select_related("material", "order__supplier")
        .order_by("pk")
    ):
        lines[line.order_id].append(line)
    return [OrderState(order, _filled(lines[order.pk], came)) for order in orders]


def on_order(materials: Collection[int] | None = None) -> dict[int, int]:
    """What open orders still owe of each material: ordered less received by standing deliveries."""
    return owed(arrivals(materials))


@dataclass(frozen=True, slots=True)
class Arrival:
    """So much of a material that an open order still owes, and the day it is expected; None where nobody said."""

    material: int
    quantity: int
    expected_on: date | None
    ordered_on: date
    supplier: int
    stated_days: int
    order: int
    order_number: int

    @property
    def due_on(self) -> date:
        """The day it is expected, or the supplier's usual days after it was ordered."""
        return self.expected_on or self.ordered_on + timedelta(days=self.stated_days)


def owed(coming: Iterable[Arrival]) -> dict[int, int]:
    """How much of each material is still to arrive."""
    by_material: dict[int, int] = defaultdict(int)
    for arrival in coming:
        by_material[arrival.material] += arrival.quantity
    return dict(by_material)


def arrivals(materials: Collection[int] | None = None) -> list[Arrival]:
    """What every open order still owes: ordered less received by standing deliveries, where that is above 0."""
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
            "order__number",
        )
        .annotate(total=Sum("quantity"))
    )
    came = _received_for({order for order, *_rest in ordered})
    left_over = []
    for order, material, expected_on, ordered_on, supplier, stated, number, quantity in ordered:
        left = quantity - came.of(order, material)
        if left > 0:
            left_over.append(
                Arrival(material, left, expected_on, ordered_on, supplier, stated, order, number)
            )
    return left_over


@dataclass(frozen=True, slots=True)
class _Received:
    """What came in thousandths: for order lines, and for orders and materials without naming a line."""

    by_line: dict[int, int]
    of_line: dict[tuple[int, int], int]  # the sum for all lines of an order and a material
    unnamed: dict[tuple[int, int], int]

    def of(self, order: int, material: int) -> int:
        return self.of_line.get((order, material), 0) + self.unnamed.get((order, material), 0)


def _received_for(orders: Collection[int]) -> _Received:
    """What came for each order, by the order's own line or, without one, by the delivery's order."""
    came = _Received({}, defaultdict(int), {})
    if not orders:
        return came
    standing = DeliveryLine.objects.filter(delivery__posting__reversed_by__isnull=True).order_by()
    named = standing.filter(order_line__order__in=orders).values_list(
        "order_line_id", "order_line__order_id", "lot__material_id"
    )
    for line, order, material, quantity in named.annotate(total=Sum("quantity")):
        came.by_line[line] = came.by_line.get(line, 0) + quantity
        came.of_line[order, material] += quantity
    unnamed = standing.filter(order_line__isnull=True, delivery__order__in=orders).values_list(
        "delivery__order_id", "lot__material_id"
    )
    for order, material, quantity in unnamed.annotate(total=Sum("quantity")):
        came.unnamed[order, material] = quantity
    return came


def _filled(lines: list[OrderLine], came: _Received) -> list[Progress]:
    by_material: dict[int, list[OrderLine]] = defaultdict(list)
    for line in lines:
        by_material[line.material_id].append(line)
    received = {}
    for alike in by_material.values():
        own = {line.pk: min(came.by_line.get(line.pk, 0), line.quantity) for line in alike}
        left = came.of(alike[0].order_id, alike[0].material_id) - sum(own.values())
        for line in alike:
            more = left if line is alike[-1] else min(left, line.quantity - own[line.pk])
            received[line.pk] = own[line.pk] + more
            left -= more
    return [Progress(line, received[line.pk]) for line in lines]
