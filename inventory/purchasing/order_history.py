"""When orders were promised and when they came: what lead times are learned from, late and chased orders included."""

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date

from django.db.models import Count, F, OuterRef, Q, Subquery
from django.db.models.functions import Coalesce

from inventory.purchasing.models import Delivery, DeliveryLine, Order, OrderChase


@dataclass(frozen=True, slots=True)
class OrderTimes:
    """One order: the day first promised and the day promised last, and each day on which some of it came."""

    order: int
    number: int
    supplier: int
    ordered_on: date
    first_promised_on: date | None
    expected_on: date | None
    received_on: tuple[date, ...]
    chases: int
    is_open: bool

    @property
    def days_taken(self) -> list[int]:
        """Days from the order to each day on which some of it came. What came before it was ordered says nothing."""
        return [(day - self.ordered_on).days for day in self.received_on if day >= self.ordered_on]

    @property
    def days_promised(self) -> int | None:
        """Days from the order to the day first promised."""
        promised = self.first_promised_on
        return None if promised is None else (promised - self.ordered_on).days

    def days_late(self, today: date) -> int:
        """How many days later than first promised the last of it came, or an open order is by now; never below 0."""
        last = today if self.is_open else max(self.received_on, default=None)
        if last is None or self.first_promised_on is None:
            return 0
        return max((last - self.first_promised_on).days, 0)


def order_times(*, since: date | None = None, suppliers: Collection[int] | None = None) -> list[OrderTimes]:
    """Orders placed after `since`, oldest first, in three statements. Reversed deliveries never came."""
    orders = Order.objects.all()
    if since is not None:
        orders = orders.filter(ordered_on__gt=since)
    if suppliers is not None:
        orders = orders.filter(supplier__in=suppliers)
    first = OrderChase.objects.filter(order=OuterRef("pk"), promised_on__isnull=False).order_by("pk")
    promises = {
        "first_promised_on": Coalesce(Subquery(first.values("expected_before")[:1]), F("expected_on")),
        "chase_count": Count("chases"),
    }
    names = ("pk", "number", "supplier_id", "ordered_on", "first_promised_on", "expected_on", "chase_count")
    rows = list(
        orders.annotate(**promises).order_by("ordered_on", "pk").values_list(*names, "is_closed", named=True)
    )
    came = _days_received([row.pk for row in rows])
    return [
        OrderTimes(
            row.pk,
            row.number,
            row.supplier_id,
            row.ordered_on,
            row.first_promised_on,
            row.expected_on,
            tuple(sorted(came[row.pk])),
            row.chase_count,
            not row.is_closed,
        )
        for row in rows
    ]


def _days_received(orders: Collection[int]) -> dict[int, set[date]]:
    """The days on which something came for each order, by its deliveries or by lines that name one of its lines."""
    days: dict[int, set[date]] = defaultdict(set)
    standing = Q(posting__reversed_by__isnull=True)
    for order, day in Delivery.objects.filter(standing, order__in=orders).values_list(
        "order_id", "received_on"
    ):
        days[order].add(day)
    lines = DeliveryLine.objects.filter(
        order_line__order__in=orders, delivery__posting__reversed_by__isnull=True
    )
    for order, day in lines.values_list("order_line__order_id", "delivery__received_on"):
        days[order].add(day)
    return days
