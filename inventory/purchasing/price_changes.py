"""What a delivered line costs beside what was ordered and what was paid last, for as much of the same material."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date

from django.db.models import F, Q

from inventory.ledger.questions import latest_of_each
from inventory.materials.models import Supplier, Supply
from inventory.purchasing.models import Delivery, DeliveryLine, OrderLine
from studio.values.allocation import MILLION, divide_half_up
from studio.values.money import round_to_minor


@dataclass(frozen=True, slots=True)
class PriceChange:
    """A price beside an earlier one for as much (millionths of one currency). `paid_on`: None for the order's price."""

    price: int
    before: int
    currency: str
    paid_on: date | None = None

    @property
    def difference(self) -> int:
        return self.price - self.before

    @property
    def share(self) -> int:
        """The difference as a share of the earlier price, in millionths and without its sign; 0 where that was free."""
        return divide_half_up(abs(self.difference) * MILLION, self.before) if self.before else 0


@dataclass(frozen=True, slots=True)
class LastPaid:
    """What was paid last for a quantity of a material: millionths of the invoice's currency."""

    price: int
    quantity: int
    currency: str
    paid_on: date

    def for_as_much(self, quantity: int) -> int:
        return round_to_minor(divide_half_up(self.price * quantity, self.quantity), self.currency)


def last_paid(
    supplier: Supplier, currency: str, materials: Collection[int], *, before: Delivery | None = None
) -> dict[int, LastPaid]:
    """What each material cost when this supplier was last paid for it in a currency; `before` a delivery if given."""
    rows = DeliveryLine.objects.filter(
        lot__material__in=materials,
        delivery__supplier=supplier,
        delivery__currency=currency,
        delivery__posting__reversed_by__isnull=True,
        price__gt=0,
    )
    if before is not None:
        earlier = Q(delivery__received_on=before.received_on, delivery__lt=before.pk)
        rows = rows.filter(earlier | Q(delivery__received_on__lt=before.received_on))
    latest = latest_of_each(rows, "lot__material")
    found: dict[int, LastPaid] = {}
    for material, price, quantity, day in latest.values_list(
        "lot__material", "price", "quantity", "delivery__received_on"
    ):
        if material not in found or day > found[material].paid_on:
            found[material] = LastPaid(price, quantity, currency, day)
    return found


def against_order(line: OrderLine, price: int, quantity: int, currency: str) -> PriceChange | None:
    """A price beside the order's for as much; None where they agree, or the order says none in that currency."""
    if not line.price or line.order.currency != currency:
        return None
    before = round_to_minor(divide_half_up(line.price * quantity, line.quantity), currency)
    return PriceChange(price, before, currency) if price != before else None


def against_last(paid: LastPaid | None, price: int, quantity: int) -> PriceChange | None:
    """A price beside what was last paid for as much; None where they agree or nothing was paid before."""
    if paid is None or price == (before := paid.for_as_much(quantity)):
        return None
    return PriceChange(price, before, paid.currency, paid.paid_on)


def changes_of(delivery: Delivery, lines: Sequence[DeliveryLine]) -> dict[int, list[PriceChange]]:
    """The changes of each line's price, by its lot: against its order, then against what was paid last."""
    paid = last_paid(
        delivery.supplier, delivery.currency, [line.lot.material_id for line in lines], before=delivery
    )
    found = {}
    for line in lines:
        ordered = line.order_line
        changes = [
            against_order(ordered, line.price, line.quantity, delivery.currency) if ordered else None,
            against_last(paid.get(line.lot.material_id), line.price, line.quantity),
        ]
        found[line.lot_id] = [change for change in changes if change is not None]
    return found


@dataclass(frozen=True, slots=True)
class NewPackPrice:
    """What a pack cost on a delivery where the supplier's list says something else, or has no such pack."""

    line: DeliveryLine
    pack: int
    price: int
    supply: Supply | None


def new_pack_prices(delivery: Delivery, lines: Sequence[DeliveryLine]) -> list[NewPackPrice]:
    """Pack prices that a delivery could teach its supplier's list: those that nothing newer from it has overtaken."""
    if delivery.currency != delivery.supplier.currency:
        return []
    listed = {
        (supply.material_id, supply.pack_size): supply
        for supply in Supply.objects.filter(
            supplier=delivery.supplier, material__in=[line.lot.material_id for line in lines]
        )
    }
    overtaken = _newer_from(delivery)
    found: dict[tuple[int, int], NewPackPrice] = {}
    for line in lines:
        pack = (line.lot.material_id, line.quantity // line.packs)
        price = round_to_minor(divide_half_up(line.price, line.packs), delivery.currency)
        supply = listed.get(pack)
        if price and pack not in overtaken and (supply is None or supply.price != price):
            found[pack] = NewPackPrice(line, pack[1], price, supply)
    return list(found.values())


def _newer_from(delivery: Delivery) -> set[tuple[int, int]]:
    """Materials and pack sizes that the same supplier has delivered again since."""
    newer = DeliveryLine.objects.filter(
        Q(delivery__received_on__gt=delivery.received_on)
        | Q(delivery__received_on=delivery.received_on, delivery__gt=delivery.pk),
        delivery__supplier=delivery.supplier,
        delivery__posting__reversed_by__isnull=True,
        lot__material__in=delivery.lines.values("lot__material"),
    )
    return set(newer.values_list("lot__material", F("quantity") / F("packs")).distinct())
