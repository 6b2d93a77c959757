"""What is known of one material or one lot, each figure leading to the entries behind it.

Quantities are thousandths of the base unit, money millionths of the currency unit.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from django.db.models import Sum
from django.db.models.functions import TruncMonth

from inventory.ledger.models import Entry, Lot, Place
from inventory.ledger.movements import AccountMovement, account_movements
from inventory.materials.models import Material
from inventory.purchasing.models import DeliveryLine
from inventory.stock.queries import HeldLot, MaterialStock, held_lots, stock_of

MONTHS_ON_A_CARD = 12
RECEIPTS_ON_A_CARD = 30


@dataclass(frozen=True, slots=True)
class Receipt:
    """What came in, when, and what it cost: the unit cost through time."""

    on: date
    lot: Lot
    quantity: int
    money: int


@dataclass(frozen=True, slots=True)
class MonthUse:
    """What was used of a material in the month that begins on a day."""

    month: date
    quantity: int


@dataclass(frozen=True, slots=True)
class MaterialCard:
    """Everything known of one material, each figure leading to the entries behind it."""

    stock: MaterialStock
    lots: tuple[HeldLot, ...]
    movements: tuple[AccountMovement, ...]
    use: tuple[MonthUse, ...]
    receipts: tuple[Receipt, ...]


def material_card(material: Material, *, on: date, alerts: Mapping[int, int]) -> MaterialCard:
    """A material's stock, lots, last movements, use a month over the year to `on`, and unit costs."""
    return MaterialCard(
        stock=stock_of(Material.objects.filter(pk=material.pk), alerts=alerts)[0],
        lots=tuple(held_lots(materials=[material.pk])),
        movements=tuple(account_movements(Entry.objects.filter(material=material, place=Place.LOT))),
        use=use_by_month(material, on=on),
        receipts=_receipts(material),
    )


def use_by_month(material: Material, *, on: date, months: int = MONTHS_ON_A_CARD) -> tuple[MonthUse, ...]:
    """What was used in each of the months up to and including the one of `on`, oldest first, none left out."""
    starts = [_month_before(on, back) for back in reversed(range(months))]
    used = dict(
        Entry.objects.uses()
        .filter(material=material, posting__effective_on__gte=starts[0], posting__effective_on__lte=on)
        .order_by()
        .annotate(month=TruncMonth("posting__effective_on"))
        .values_list("month")
        .annotate(total=-Sum("quantity"))
    )
    return tuple(MonthUse(start, used.get(start, 0)) for start in starts)


def _month_before(day: date, back: int) -> date:
    years, month = divmod(day.year * 12 + day.month - 1 - back, 12)
    return date(years, month + 1, 1)


def _receipts(material: Material) -> tuple[Receipt, ...]:
    latest = (
        Entry.objects.receipts()
        .filter(material=material)
        .select_related("posting", "lot__material")
        .order_by("-posting_id", "-line")[:RECEIPTS_ON_A_CARD]
    )
    return tuple(
        Receipt(entry.posting.effective_on, entry.lot, entry.quantity, entry.money)
        for entry in reversed(latest)
        if entry.lot is not None
    )


@dataclass(frozen=True, slots=True)
class LotCard:
    """Where one lot came from, what it holds, and where the rest went."""

    lot: Lot
    held: HeldLot | None
    delivered: DeliveryLine | None
    movements: tuple[AccountMovement, ...]
    decanted_into: tuple[Lot, ...]


def lot_card(lot: Lot) -> LotCard:
    """One lot with its last movements and the jars it was decanted into."""
    held = held_lots(lots=[lot.pk])
    return LotCard(
        lot=lot,
        held=held[0] if held else None,
        delivered=DeliveryLine.objects.filter(lot=lot).select_related("delivery__supplier").first(),
        movements=tuple(account_movements(Entry.objects.filter(lot=lot))),
        decanted_into=tuple(Lot.objects.filter(decanted_from=lot)),
    )
