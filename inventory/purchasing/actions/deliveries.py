"""Writers for what comes in: deliveries with their landed cost, and opening stock."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction

from inventory.errors import InventoryError
from inventory.ledger import posting as ledger
from inventory.ledger.models import Lot, Posting, PostingKind
from inventory.materials.models import Material, Supplier
from inventory.purchasing.landed_costs import value_weights
from inventory.purchasing.models import Delivery, DeliveryLine, Order, OrderLine
from studio.accounts.models import User
from studio.constraints import LARGEST
from studio.translation import _
from studio.values.allocation import allocate
from studio.values.money import convert
from studio.values.quantities import mass_of


@dataclass(frozen=True, slots=True)
class LineFacts:
    """One line as received: total quantity in thousandths, line price in millionths of the purchase currency."""

    material: Material
    quantity: int
    price: int
    packs: int = 1
    best_before: date | None = None
    place: str = ""
    supplier_batch: str = ""
    empty_weight: int | None = None
    order_line: OrderLine | None = None
    typed: str = ""


@dataclass(frozen=True, slots=True)
class DeliveryFacts:
    """A delivery as received.

    Carriage, duty and tax that cannot be reclaimed are in the studio's currency.
    """

    supplier: Supplier
    received_on: date
    currency: str
    lines: Sequence[LineFacts]
    rate: int = 1_000_000
    rate_on: date | None = None
    carriage: int = 0
    carriage_shared_by: str = Delivery.SharedBy.VALUE
    duty: int = 0
    tax: int = 0
    reference: str = ""
    order: Order | None = None
    close_order: bool = False


def landed_costs(facts: DeliveryFacts) -> list[int]:
    """What each line cost on the shelf: price in studio money + its share of carriage, duty and tax (IAS 2.10–11).

    Duty and tax are shared by value; carriage by value or by weight. Shares add up exactly. Raises
    InventoryError where sharing by weight lacks a density, or a line comes to more than the books can hold.
    """
    values = [convert(line.price, facts.rate) for line in facts.lines]
    weights = value_weights(values)
    carriage_weights = _masses(facts.lines) if facts.carriage_shared_by == Delivery.SharedBy.MASS else weights
    shares = [
        allocate(facts.carriage, carriage_weights),
        allocate(facts.duty, weights),
        allocate(facts.tax, weights),
    ]
    costs = [value + sum(parts) for value, *parts in zip(values, *shares, strict=True)]
    if max(costs, default=0) > LARGEST:
        raise InventoryError(_("A line costs more than the books can hold. Check the prices and the rate."))
    return costs


@transaction.atomic
def receive_delivery(*, facts: DeliveryFacts, by: User, at: datetime, key: str = "") -> Delivery:
    """Post a delivery: money in, one lot a line.

    Raises InventoryError when there is nothing in it or an amount makes no sense.
    """
    head = ledger.lock()
    request = ledger.fingerprint(facts)
    earlier = head.earlier(by=by, key=key, fingerprint=request)
    if earlier is not None:
        return earlier.delivery
    _refuse_nonsense(facts)
    draft = head.draft(
        PostingKind.DELIVERY,
        on=facts.received_on,
        by=by,
        at=at,
        note=facts.reference,
        key=key,
        fingerprint=request,
    )
    costs = landed_costs(facts)
    delivery = Delivery.objects.create(
        supplier=facts.supplier,
        order=facts.order,
        received_on=facts.received_on,
        reference=facts.reference,
        currency=facts.currency,
        rate=facts.rate,
        rate_on=facts.rate_on,
        carriage=facts.carriage,
        carriage_shared_by=facts.carriage_shared_by,
        duty=facts.duty,
        tax=facts.tax,
        posting_id=draft.number,
    )
    lots = Lot.objects.bulk_create(
        Lot(
            material=line.material,
            origin=Lot.Origin.DELIVERY,
            received_on=facts.received_on,
            best_before=line.best_before,
            place=line.place,
            supplier_batch=line.supplier_batch,
            empty_weight=line.empty_weight,
        )
        for line in facts.lines
    )
    DeliveryLine.objects.bulk_create(
        DeliveryLine(
            delivery=delivery,
            lot=lot,
            packs=line.packs,
            quantity=line.quantity,
            price=line.price,
            landed=cost,
            order_line=line.order_line,
            typed=line.typed,
        )
        for line, lot, cost in zip(facts.lines, lots, costs, strict=True)
    )
    for line, lot, cost in zip(facts.lines, lots, costs, strict=True):
        draft.receive(lot, quantity=line.quantity, money=cost)
    draft.seal()
    if facts.order is not None and facts.close_order:
        Order.objects.filter(pk=facts.order.pk).update(is_closed=True)
    return delivery


@dataclass(frozen=True, slots=True)
class OpeningLine:
    """Stock that was there before the books: quantity in thousandths, its cost in millionths."""

    material: Material
    quantity: int
    money: int
    opened_on: date | None = None
    best_before: date | None = None
    place: str = ""


@transaction.atomic
def open_stock(*, lines: Sequence[OpeningLine], on: date, by: User, at: datetime, key: str = "") -> Posting:
    """Post what stood on the shelf when the books began, one lot a line."""
    head = ledger.lock()
    request = ledger.fingerprint([on, lines])
    earlier = head.earlier(by=by, key=key, fingerprint=request)
    if earlier is not None:
        return earlier
    _refuse_opening_nonsense(lines)
    draft = head.draft(
        PostingKind.OPENING, on=on, by=by, at=at, note=_("Opening stock"), key=key, fingerprint=request
    )
    lots = Lot.objects.bulk_create(
        Lot(
            material=line.material,
            origin=Lot.Origin.OPENING,
            received_on=on,
            opened_on=line.opened_on,
            best_before=line.best_before,
            place=line.place,
        )
        for line in lines
    )
    for line, lot in zip(lines, lots, strict=True):
        draft.receive(lot, quantity=line.quantity, money=line.money)
    return draft.seal()


def _refuse_opening_nonsense(lines: Sequence[OpeningLine]) -> None:
    if not lines or any(line.quantity <= 0 or line.money < 0 for line in lines):
        raise InventoryError(
            _(
                "Opening stock needs at least one line, each with a quantity above zero "
                "and a cost of zero or more."
            )
        )
    for number, line in enumerate(lines, start=1):
        if line.material.is_free:
            raise InventoryError(_free_on_line(number, line.material))


def _refuse_nonsense(facts: DeliveryFacts) -> None:
    if not facts.lines:
        raise InventoryError(_("A delivery needs at least one line."))
    if facts.rate <= 0 or min(facts.carriage, facts.duty, facts.tax) < 0:
        raise InventoryError(
            _("Carriage, duty and tax are zero or more, and the exchange rate is above zero.")
        )
    for number, line in enumerate(facts.lines, start=1):
        if line.quantity <= 0 or line.price < 0 or line.packs <= 0:
            raise InventoryError(
                _("Line {line}: the quantity must be above zero and the price zero or more.", line=number)
            )
        if line.material.is_free:
            raise InventoryError(_free_on_line(number, line.material))


def _free_on_line(number: int, material: Material) -> str:
    return _(
        "Line {line}: {material} is a free material and is never stocked.", line=number, material=material
    )


def _masses(lines: Sequence[LineFacts]) -> list[int]:
    masses = []
    for line in lines:
        if line.material.measure == "mass":
            masses.append(line.quantity)
        elif line.material.measure == "volume" and line.material.density:
            masses.append(mass_of(line.quantity, line.material.density))
        else:
            raise InventoryError(
                _(
                    "Carriage cannot be shared by weight: the weight of {material} is not known. "
                    "Enter its density, or share by value.",
                    material=line.material,
                )
            )
    return masses
