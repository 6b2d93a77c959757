"""What stands on the shelf, now or as of any day, and what everything in the books is worth.

Quantities are thousandths of the base unit, money millionths of the currency unit. Every reader here makes the same
few queries however many rows there are.
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, NamedTuple

from django.db.models import OuterRef, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce

from inventory.ledger.models import Entry, Lot, LotBalance
from inventory.ledger.month_ends import balances_on
from inventory.materials.models import Material
from inventory.purchasing.incoming import on_order
from inventory.stock.availability import NOTHING, Cover, StockFigures
from studio.values.allocation import divide_half_up

FULL_MARK = 1_000_000
# A shelf that holds three times its reorder level counts as well filled (common practice, no source).
LEVELS_WHEN_FULL = 3
# More lots than this are looked for by reading all of them: a database takes only so many values in one statement.
LISTED_AT_MOST = 900
NO_ALERTS: Mapping[int, int] = {}
NO_COVERS: Mapping[int, Cover] = {}


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


def day_to_use_by(
    opened_on: date | None, best_before: date | None, keeps_days: int | None, recipe: int | None
) -> date | None:
    """The day a lot should be used by: its best-before, or sooner, so many days after it was opened.

    What was mixed here (by a recipe) carries its day in best_before from the start; opening does not shorten it.
    """
    if recipe is not None or not keeps_days or opened_on is None:
        return best_before
    keeps_until = opened_on + timedelta(days=keeps_days)
    return min(keeps_until, best_before) if best_before else keeps_until


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
        return day_to_use_by(self.opened_on, self.best_before, self.keeps_days, self.recipe)

    def is_usable_on(self, day: date) -> bool:
        return self.use_by is None or self.use_by >= day

    def on(self, day: date) -> "HeldLot":
        """As it stood that day: a bottle opened since was still sealed."""
        return self._replace(opened_on=None) if self.opened_on and self.opened_on > day else self


class ListedMaterial(NamedTuple):
    """What a list says of a material: a row of this costs a tenth of one of the model."""

    pk: int
    name: str
    kind: str
    measure: str
    maker: str
    colour: str
    reorder_level: int | None
    is_free: bool
    is_archived: bool


def listed(materials: QuerySet[Material]) -> list[ListedMaterial]:
    """Materials as a list shows them, in the order of the queryset."""
    return [ListedMaterial(*row) for row in materials.values_list(*ListedMaterial._fields)]


class MaterialStock(NamedTuple):
    """One material on the shelf. `level` is how full to draw the beaker, in millionths of its full mark."""

    material: Material | ListedMaterial
    quantity: int
    money: int
    lots: int
    opened_lots: int
    use_by: date | None
    on_order: int
    has_open_alert: bool
    level: int
    figures: StockFigures | None = None  # today's; a past day has none
    cover: Cover | None = None  # the same; None as well where no use tells

    @property
    def lasts_until(self) -> date | None:
        return self.cover.lasts_until if self.cover else None

    @property
    def order_by(self) -> date | None:
        return self.cover.order_by if self.cover else None

    @property
    def is_cover_guessed(self) -> bool:
        return self.cover is not None and self.cover.is_guess

    @property
    def reserved(self) -> int | None:
        """What plans reserve of it; None for a past day."""
        return self.figures.reserved if self.figures else None

    @property
    def available(self) -> int | None:
        """What can be taken from today on without leaving a plan short; None for a past day."""
        return self.figures.at_least_nothing if self.figures else None

    @property
    def unit_cost(self) -> UnitCost | None:
        return UnitCost(self.money, self.quantity) if self.quantity > 0 else None


def stock_list(
    materials: Iterable[Material | ListedMaterial] | None = None,
    *,
    low_only: bool = False,
    expires_by: date | None = None,
    as_of: date | None = None,
    alerts: Mapping[int, int] = NO_ALERTS,
    figures: Mapping[int, StockFigures] | None = None,
    lots: Iterable[HeldLot] | None = None,
    coming: Mapping[int, int] | None = None,
    covers: Mapping[int, Cover] = NO_COVERS,
    order: str = "name",
) -> list[MaterialStock]:
    """What the shelf holds of materials (without any, of all in use), at the end of the day `as_of` or now.

    `low_only` keeps those with an open alert, `expires_by` those with a lot to be used by that day. `order` is one of
    ORDERS, with a minus for the other way round.
    """
    if materials is None:
        materials = Material.objects.filter(is_archived=False, is_free=False)
    rows = stock_of(
        materials, as_of=as_of, alerts=alerts, figures=figures, lots=lots, coming=coming, covers=covers
    )
    if low_only:
        rows = [row for row in rows if row.has_open_alert]
    if expires_by is not None:
        rows = [row for row in rows if row.use_by is not None and row.use_by <= expires_by]
    return sorted(rows, key=ORDERS[order.removeprefix("-")], reverse=order.startswith("-"))


def stock_of(
    materials: Iterable[Material | ListedMaterial],
    *,
    as_of: date | None = None,
    alerts: Mapping[int, int] = NO_ALERTS,
    figures: Mapping[int, StockFigures] | None = None,
    lots: Iterable[HeldLot] | None = None,
    coming: Mapping[int, int] | None = None,
    covers: Mapping[int, Cover] = NO_COVERS,
) -> list[MaterialStock]:
    """One row a material, in their order. Orders, plans and alerts belong to today, not to a past day.

    `alerts` are the levels of materials with an open reorder alert, in thousandths of the base unit; `figures` what
    plans reserve and leave; `covers` how long each lasts. Who has today's `lots` already, or what is `coming`,
    hands it in.
    """
    if as_of is not None:
        lots, coming, alerts, figures, covers = held_lots(as_of=as_of), {}, NO_ALERTS, None, NO_COVERS
    held: dict[int, list[HeldLot]] = defaultdict(list)
    for lot in held_lots() if lots is None else lots:
        held[lot.material].append(lot)
    coming = on_order() if coming is None else coming
    return [
        _material_row(
            material,
            held[material.pk],
            coming.get(material.pk, 0),
            alerts.get(material.pk),
            None if figures is None else figures.get(material.pk, NOTHING),
            covers.get(material.pk),
        )
        for material in materials
    ]


def _material_row(
    material: Material | ListedMaterial,
    lots: Sequence[HeldLot],
    coming: int,
    alert: int | None,
    figures: StockFigures | None,
    cover: Cover | None,
) -> MaterialStock:
    """Summed lot by lot: a database asked for sums by material walks through every lot there ever was."""
    quantity = sum([lot.quantity for lot in lots])
    came_in = sum([lot.came_in for lot in lots])
    return MaterialStock(
        material=material,
        quantity=quantity,
        money=sum([lot.money for lot in lots]),
        lots=len(lots),
        opened_lots=sum([lot.opened_on is not None for lot in lots]),
        use_by=min([use_by for lot in lots if (use_by := lot.use_by)], default=None),
        on_order=coming,
        has_open_alert=alert is not None,
        level=_fullness(quantity, came_in, material.reorder_level or alert or 0),
        figures=figures,
        cover=cover,
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
    "lasts_until": lambda row: (row.lasts_until or date.max, *_by_name(row)),
    "order_by": lambda row: (row.order_by or date.max, *_by_name(row)),
}


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


def usable_and_expired(
    on: date, materials: Collection[int] | None = None
) -> tuple[Counter[int], Counter[int]]:
    """What is in stock now by material: what can be used on a day, and what is past its day by then."""
    usable, expired = Counter[int](), Counter[int]()
    lots = Lot.objects.on_shelf()
    if materials is not None:
        lots = lots.filter(material__in=materials)
    facts = ("opened_on", "best_before", "material__keeps_days", "material__recipe")
    rows = lots.order_by().values_list("material_id", "balance__quantity", *facts)
    for material, quantity, *dates in rows:
        use_by = day_to_use_by(*dates)
        (expired if use_by and use_by < on else usable)[material] += quantity
    return usable, expired


def usable_until(
    on: date, materials: Collection[int], lots: Iterable[HeldLot] | None = None
) -> Mapping[int, list[tuple[date, int]]]:
    """Of lots in stock now that go off on a day or later: the last day of each, and what it holds, by material."""
    if lots is None:
        lots = held_lots(materials=materials if len(materials) <= LISTED_AT_MOST else None)
    found = defaultdict[int, list[tuple[date, int]]](list)
    for lot in lots:
        if lot.material in materials and (use_by := lot.use_by) and use_by >= on:
            found[lot.material].append((use_by, lot.quantity))
    return found


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
class ExpiringLot:
    """A lot past or near the day it should be used by, and what it is worth."""

    lot: Lot
    quantity: int
    money: int
    use_by: date
    days_left: int


def expiring_lots(on: date, within_days: int) -> list[ExpiringLot]:
    """Lots past their day, or due within so many days, soonest first."""
    due = [
        (use_by, held)
        for held in held_lots()
        if (use_by := held.use_by) is not None and (use_by - on).days <= within_days
    ]
    lots = Lot.objects.select_related("material").in_bulk([held.lot for _, held in due])
    return [
        ExpiringLot(lots[held.lot], held.quantity, held.money, use_by, (use_by - on).days)
        for use_by, held in sorted(due, key=lambda item: (item[0], item[1].lot))
    ]
