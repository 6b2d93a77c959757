"""What a supplier's orders and deliveries say: how long they took, what packs cost through time, sums by year."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import NamedTuple

from django.db.models import Count, Sum
from django.db.models.functions import ExtractYear

from inventory.materials.models import Material, Supplier
from inventory.purchasing.incoming import OrderState, progress_of
from inventory.purchasing.models import Delivery, DeliveryLine
from inventory.purchasing.order_history import OrderTimes, order_times
from studio.values.allocation import divide_half_up
from studio.values.money import round_to_minor

DAYS_SHOWN = 3 * 365
MOST_ORDERS = 24
MOST_PACKS = 12


class DayPrice(NamedTuple):
    """What something cost on a day, in millionths of the invoice's currency."""

    on: date
    price: int


@dataclass(frozen=True, slots=True)
class PackPrices:
    """What a pack of a material cost through time, the oldest price first."""

    material: Material
    pack: int
    currency: str
    prices: Sequence[DayPrice]

    @property
    def difference(self) -> int:
        """How much more the last one cost than the first."""
        return self.prices[-1].price - self.prices[0].price


@dataclass(frozen=True, slots=True)
class YearSum:
    """The deliveries of a year, and what they cost landed in the studio's currency (millionths)."""

    year: int
    deliveries: int
    landed: int


@dataclass(frozen=True, slots=True)
class SupplierHistory:
    """What is known of one supplier. Times are those of the latest orders, oldest first."""

    supplier: Supplier
    open_orders: Sequence[OrderState]
    times: Sequence[OrderTimes]
    prices: Sequence[PackPrices]
    years: Sequence[YearSum]


def history_of(supplier: Supplier, *, today: date) -> SupplierHistory:
    """A supplier's open orders, and its last three years, in a constant number of statements."""
    since = today - timedelta(days=DAYS_SHOWN)
    open_orders = supplier.orders.filter(is_closed=False).select_related("supplier")
    return SupplierHistory(
        supplier,
        progress_of(open_orders.order_by("expected_on", "pk")),
        order_times(since=since, suppliers=[supplier.pk])[-MOST_ORDERS:],
        _pack_prices(supplier, since),
        _by_year(supplier),
    )


def _pack_prices(supplier: Supplier, since: date) -> list[PackPrices]:
    """Packs that were bought at least twice, those bought last first."""
    lines = DeliveryLine.objects.filter(
        delivery__supplier=supplier,
        delivery__received_on__gt=since,
        delivery__posting__reversed_by__isnull=True,
        price__gt=0,
    ).select_related("lot__material", "delivery")
    found: dict[tuple[int, int, str], list[DayPrice]] = defaultdict(list)
    materials: dict[int, Material] = {}
    for line in lines.order_by("delivery__received_on", "pk"):
        material, currency = line.lot.material, line.delivery.currency
        materials[material.pk] = material
        price = round_to_minor(divide_half_up(line.price, line.packs), currency)
        place = (material.pk, line.quantity // line.packs, currency)
        found[place].append(DayPrice(line.delivery.received_on, price))
    packs = [
        PackPrices(materials[material], pack, currency, prices)
        for (material, pack, currency), prices in found.items()
        if len(prices) > 1
    ]
    packs.sort(key=lambda each: (each.prices[-1].on, -len(each.material.name)), reverse=True)
    return packs[:MOST_PACKS]


def _by_year(supplier: Supplier) -> list[YearSum]:
    """Every year with a delivery, the latest first. Reversed deliveries do not count."""
    rows = (
        Delivery.objects.filter(supplier=supplier, posting__reversed_by__isnull=True)
        .order_by()
        .values_list(ExtractYear("received_on"))
        .annotate(count=Count("pk", distinct=True), landed=Sum("lines__landed"))
    )
    return [YearSum(year, count, landed or 0) for year, count, landed in sorted(rows, reverse=True)]
