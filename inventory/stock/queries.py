"""What stands on the shelf, now or as of any day, and what everything in the books is worth.

Quantities are thousandths of the base unit, money millionths of the currency unit. Every reader here makes the same
few queries however many rows there are.
"""

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, NamedTuple

from django.db.models import OuterRef, Q, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce

from inventory.errors import InventoryError
from inventory.ledger.models import Entry, Lot, LotBalance
from inventory.ledger.month_ends import balances_on
from inventory.materials.models import Material
from inventory.purchasing.models import DeliveryLine, OrderLine
from studio.translation import _
from studio.values.allocation import divide_half_up

FULL_MARK = 1_000_000
# A shelf that holds three times its reorder level counts as well filled (common practice, no source).
LEVELS_WHEN_FULL = 3
# More lots than this are looked for by reading all of them: a database takes only so many values in one statement.
LISTED_AT_MOST = 900
NO_ALERTS: Mapping[int, int] = {}


@dataclass(frozen=True, slots=True)
class UnitCost:
    """So much money for so much quantity: a unit cost kept exact until it is used."""

    money: int
    quantity: int

    @property
    def per_base_unit(self) -> int:
        """Money per whole base unit (mL, g, each …), rounded half up."""
        return self.of(1000)

    def of(self, quantity: int) -> int:
        """What a quantity costs at this rate, rounded half up."""
        return divide_half_up(self.money * quantity, self.quantity)


class HeldLot(NamedTuple):
    """What one lot holds, with the dates that say whether it is still good."""

    lot: int
    material: int
    quantity: int
    money: int
    received_on: date
    opened_on: date | None
    best_before: date | None
    keeps_days: int | None
    recipe: int | None
    came_in: int

    @property
    def use_by(self) -> date | None:
        """The day it should be used by: its best-before, or sooner, so many days after it was opened.

        What was mixed here carries its day in best_before from the start; opening does not shorten it.
        """
        if self.recipe is not None or not self.keeps_days or self.opened_on is None:
            return self.best_before
        keeps_until = self.opened_on + timedelta(days=self.keeps_days)
        return min(keeps_until, self.best_before) if self.best_before else keeps_until

    def on(self, day: date) -> "HeldLot":
        """As it stood that day: a bottle opened since was still sealed."""
        return self._replace(opened_on=None) if self.opened_on and self.opened_on > day else self


@dataclass(frozen=True, slots=True)
class MaterialStock:
    """One material on the shelf. `level` is how full to draw the beaker, in millionths of its full mark."""

    material: Material
    quantity: int
    money: int
    lots: int
    opened_lots: int
    use_by: date | None
    on_order: int
    has_open_alert: bool
    level: int

    @property
    def unit_cost(self) -> UnitCost | None:
        return UnitCost(self.money, self.quantity) if self.quantity > 0 else None


def stock_list(
    *,
    search: str = "",
    kind: str = "",
    low_only: bool = False,
    include_archived: bool = False,
    include_free: bool = False,
    going_off_by: date | None = None,
    as_of: date | None = None,
    alerts: Mapping[int, int] = NO_ALERTS,
    order: str = "name",
) -> list[MaterialStock]:
    """What the shelf holds of every material; with `as_of`, at the end of that day by the postings' own dates.

    `low_only` keeps materials with an open alert, `going_off_by` those with a lot to be used by that day. `order`
    is one of ORDERS, with a minus for the other way round. Raises InventoryError for an unknown order.
    """
    key = _order_key(order.removeprefix("-"))
    materials = Material.objects.all()
    if not include_archived:
        materials = materials.filter(is_archived=False)
    if not include_free:
        materials = materials.filter(is_free=False)
    if kind:
        materials = materials.filter(kind=kind)
    for word in search.split():
        materials = materials.filter(Q(name__icontains=word) | Q(maker__icontains=word))
    rows = stock_of(materials, as_of=as_of, alerts=alerts)
    if low_only:
        rows = [row for row in rows if row.has_open_alert]
    if going_off_by is not None:
        rows = [row for row in rows if row.use_by is not None and row.use_by <= going_off_by]
    return sorted(rows, key=key, reverse=order.startswith("-"))


def stock_of(
    materials: QuerySet[Material], *, as_of: date | None = None, alerts: Mapping[int, int] = NO_ALERTS
) -> list[MaterialStock]:
    """One row a material, in the order of the queryset. Orders and alerts belong to today, not to a past day.

    `alerts` are the levels of materials with an open reorder alert, in thousandths of the base unit.
    """
    if as_of is not None:
        then = _on_shelf(as_of)
        return [_material_row(material, then.get(material.pk, EMPTY)) for material in materials]
    now = _on_shelf()
    coming = on_order()
    return [
        _material_row(
            material, now.get(material.pk, EMPTY), coming.get(material.pk, 0), alerts.get(material.pk)
        )
        for material in materials
    ]


class OnShelf(NamedTuple):
    """What the lots of one material come to."""

    quantity: int
    money: int
    lots: int
    opened_lots: int
    use_by: date | None
    came_in: int


EMPTY = OnShelf(0, 0, 0, 0, None, 0)


def _on_shelf(as_of: date | None = None) -> dict[int, OnShelf]:
    """Summed lot by lot: a database asked for sums by material walks through every lot there ever was."""
    by_material: dict[int, list[HeldLot]] = defaultdict(list)
    for lot in held_lots(as_of=as_of):
        by_material[lot.material].append(lot)
    return {
        material: OnShelf(
            quantity=sum([lot.quantity for lot in lots]),
            money=sum([lot.money for lot in lots]),
            lots=len(lots),
            opened_lots=sum([lot.opened_on is not None for lot in lots]),
            use_by=min([use_by for lot in lots if (use_by := lot.use_by)], default=None),
            came_in=sum([lot.came_in for lot in lots]),
        )
        for material, lots in by_material.items()
    }


def _material_row(
    material: Material, held: OnShelf, coming: int = 0, alert: int | None = None
) -> MaterialStock:
    return MaterialStock(
        material=material,
        quantity=held.quantity,
        money=held.money,
        lots=held.lots,
        opened_lots=held.opened_lots,
        use_by=held.use_by,
        on_order=coming,
        has_open_alert=alert is not None,
        level=_fullness(held.quantity, held.came_in, material.reorder_level or alert or 0),
    )


def _fullness(quantity: int, came_in: int, reorder_level: int) -> int:
    """How full to draw the beaker.

    Its full mark is what the lots still standing there held when they came in, or three reorder levels, whichever
    is more: a half-used bottle looks half full, and one full bottle of something used by the litre still looks low.
    """
    full = max(came_in, LEVELS_WHEN_FULL * reorder_level, quantity)
    return divide_half_up(max(quantity, 0) * FULL_MARK, full) if full else 0


def _by_name(row: MaterialStock) -> tuple[str, int]:
    return (row.material.name.casefold(), row.material.pk)


ORDERS: Mapping[str, Callable[[MaterialStock], tuple[object, ...]]] = {
    "name": _by_name,
    "kind": lambda row: (row.material.kind, *_by_name(row)),
    "quantity": lambda row: (row.quantity, *_by_name(row)),
    "money": lambda row: (row.money, *_by_name(row)),
    "level": lambda row: (row.level, *_by_name(row)),
    "use_by": lambda row: (row.use_by or date.max, *_by_name(row)),
}


def _order_key(order: str) -> Callable[[MaterialStock], tuple[object, ...]]:
    if order not in ORDERS:
        raise InventoryError(
            _(
                "Stock cannot be sorted by “{order}”. Choose one of {orders}.",
                order=order,
                orders=", ".join(ORDERS),
            )
        )
    return ORDERS[order]


def held_lots(
    *,
    as_of: date | None = None,
    materials: Collection[int] | None = None,
    lots: Collection[int] | None = None,
) -> list[HeldLot]:
    """Every lot that holds something, oldest first: now, or at the end of a past day."""
    chosen = Lot.objects.filter(balance__isnull=False)
    if materials is not None:
        chosen = chosen.filter(material__in=materials)
    if lots is not None:
        chosen = chosen.filter(pk__in=lots)
    if as_of is None:
        return [HeldLot(*row) for row in _with_amounts(chosen.on_shelf())]
    then = balances_on(as_of)
    if len(then) <= LISTED_AT_MOST:
        chosen = chosen.filter(pk__in=list(then))
    return [
        HeldLot(lot, material, *then[lot], *rest).on(as_of)
        for lot, material, _quantity, _money, *rest in _with_amounts(chosen)
        if lot in then
    ]


def _with_amounts(lots: QuerySet[Lot]) -> Iterable[tuple[Any, ...]]:
    """Rows for HeldLot, oldest first."""
    return lots.order_by("received_on", "pk").values_list(
        "pk",
        "material_id",
        "balance__quantity",
        "balance__money",
        "received_on",
        "opened_on",
        "best_before",
        "material__keeps_days",
        "material__recipe",
        _came_in(),
    )


def _came_in() -> Coalesce:
    """What a lot held when it came in: as delivered, else its first entry, which an index leads straight to."""
    entries = Entry.objects.filter(lot=OuterRef("pk")).order_by("posting_id", "line")
    return Coalesce("delivery_line__quantity", Subquery(entries.values("quantity")[:1]))


def on_order(materials: Collection[int] | None = None) -> dict[int, int]:
    """What open orders still owe of each material: ordered less received by standing deliveries, never below 0."""
    lines = OrderLine.objects.filter(order__is_closed=False)
    if materials is not None:
        lines = lines.filter(material__in=materials)
    ordered = {
        (order, material): quantity
        for order, material, quantity in lines.order_by()
        .values_list("order_id", "material_id")
        .annotate(total=Sum("quantity"))
    }
    came = _received_for({order for order, _ in ordered})
    owed: dict[int, int] = defaultdict(int)
    for (order, material), quantity in ordered.items():
        owed[material] += max(quantity - came.get((order, material), 0), 0)
    return dict(owed)


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


def unit_costs(materials: Iterable[Material]) -> dict[int, UnitCost]:
    """What a unit of each material costs now: by what the shelf holds, else by its last receipt.

    A free material has its set rate. A material that never came in is left out.
    """
    wanted = list(materials)
    costs = {item.pk: UnitCost(item.free_rate, 1_000_000) for item in wanted if item.is_free}
    held = (
        LotBalance.objects.filter(lot__material__in=wanted, quantity__gt=0)
        .order_by()
        .values_list("lot__material_id")
        .annotate(held=Sum("quantity"), cost=Sum("money"))
    )
    costs |= {material: UnitCost(money, quantity) for material, quantity, money in held}
    unknown = [item.pk for item in wanted if item.pk not in costs]
    if unknown:
        latest = (
            Entry.objects.receipts()
            .filter(material=OuterRef("pk"), money__gt=0)
            .order_by("-posting_id", "-line")
            .values("pk")[:1]
        )
        last = Material.objects.filter(pk__in=unknown).annotate(last=Subquery(latest)).values("last")
        receipts = Entry.objects.filter(pk__in=last)
        costs |= {entry.material_id: UnitCost(entry.money, entry.quantity) for entry in receipts}
    return costs


@dataclass(frozen=True, slots=True)
class GoingOff:
    """A lot past or near the day it should be used by, and what it is worth."""

    lot: Lot
    quantity: int
    money: int
    use_by: date
    days_left: int


def going_off(on: date, within_days: int) -> list[GoingOff]:
    """Lots past their day, or due within so many days, soonest first."""
    due = [lot for lot in held_lots() if lot.use_by is not None and (lot.use_by - on).days <= within_days]
    lots = Lot.objects.select_related("material").in_bulk([lot.lot for lot in due])
    found = [
        GoingOff(lots[lot.lot], lot.quantity, lot.money, lot.use_by, (lot.use_by - on).days)
        for lot in due
        if lot.use_by is not None
    ]
    return sorted(found, key=lambda item: (item.use_by, item.lot.pk))
