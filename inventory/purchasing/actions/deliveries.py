"""Writers for what comes in: deliveries with their landed cost, and opening stock."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from inventory.errors import InventoryError
from inventory.ledger.models import Lot, Posting, PostingKind
from inventory.ledger.posting import open_ledger
from inventory.materials.models import Material
from inventory.purchasing.actions.delivery_facts import DeliveryFacts, LineFacts
from inventory.purchasing.actions.settling import settle_orders_of
from inventory.purchasing.landed_costs import home_prices, value_weights
from inventory.purchasing.models import Delivery, DeliveryLine
from inventory.purchasing.order_questions import questions_about_order
from inventory.purchasing.questions import questions_about_delivery
from studio.auditing.writing import create_all
from studio.constraints import LARGEST
from studio.errors import InputError
from studio.submission import Submission
from studio.translation import _
from studio.values.allocation import allocate
from studio.values.money import rate_parts
from studio.values.quantities import mass_of


def landed_costs(facts: DeliveryFacts) -> list[int]:
    """What each line cost on the shelf: its share of what was paid, of carriage, of duty and of tax (IAS 2.10–11).

    Carriage is shared by value or by weight, all else by value. Shares add up exactly. Raises
    InventoryError where sharing by weight lacks a density, or a line comes to more than the books can hold.
    """
    header = facts.header
    prices = [line.price for line in facts.lines]
    weights = value_weights(prices)
    carriage_weights = (
        _masses(facts.lines) if header.carriage_shared_by == Delivery.SharedBy.MASS else weights
    )
    shares = [
        home_prices(facts.paid, prices),
        allocate(header.carriage, carriage_weights),
        allocate(header.duty, weights),
        allocate(header.tax, weights),
    ]
    costs = [sum(parts) for parts in zip(*shares, strict=True)]
    if max(costs, default=0) > LARGEST:
        raise InventoryError(
            _("A line costs more than can be recorded. Check the prices and the exchange rate.")
        )
    return costs


def receive_delivery(*, facts: DeliveryFacts, submission: Submission) -> Delivery:
    """Post a delivery on the day it was received: money in, one lot a line.

    Raises InventoryError where its costs cannot be shared over the lines, NeedsConfirmation for unusual amounts.
    """
    header = facts.header
    with open_ledger(submission, facts=facts) as ledger:
        if ledger.earlier is not None:
            return ledger.earlier.delivery
        costs = landed_costs(facts)
        draft = ledger.draft(
            PostingKind.DELIVERY,
            on=header.received_on,
            note=header.reference,
            questions=[
                *questions_about_order(header, facts.lines),
                *questions_about_delivery(facts.lines, costs),
            ],
        )
        delivery = _delivery_row(facts, draft.number)
        lots = _lot_rows(facts)
        create_all(
            DeliveryLine(
                delivery_id=delivery.pk,
                lot_id=lot.pk,
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
        for order in settle_orders_of(delivery):
            if header.close_order and not order.is_closed:
                order.is_closed = order.rest_cancelled = True
                order.save()
            ledger.touch(order.lines.values_list("material_id", flat=True))
        return delivery


def _delivery_row(facts: DeliveryFacts, posting: int) -> Delivery:
    header = facts.header
    digits, places = (None, None) if header.rate is None else rate_parts(header.rate)
    return Delivery.objects.create(
        supplier=header.supplier,
        order=header.order,
        received_on=header.received_on,
        reference=header.reference,
        currency=header.currency,
        invoiced=facts.invoiced,
        paid=facts.paid,
        rate_digits=digits,
        rate_places=places,
        rate_on=header.rate_on,
        carriage=header.carriage,
        carriage_shared_by=header.carriage_shared_by,
        duty=header.duty,
        tax=header.tax,
        posting_id=posting,
    )


def _lot_rows(facts: DeliveryFacts) -> list[Lot]:
    return create_all(
        Lot(
            material_id=line.material.pk,
            origin=Lot.Origin.DELIVERY,
            received_on=facts.header.received_on,
            best_before=line.best_before,
            place=line.place,
            supplier_batch=line.supplier_batch,
            empty_weight=line.empty_weight,
        )
        for line in facts.lines
    )


@dataclass(frozen=True, slots=True)
class OpeningLine:
    """Stock that was there before the books: quantity in thousandths, its cost in millionths.

    Raises InputError naming the field.
    """

    material: Material
    quantity: int
    money: int
    opened_on: date | None = None
    best_before: date | None = None
    place: str = ""

    def __post_init__(self) -> None:
        if self.material.is_free:
            raise InputError(
                _(
                    "{material} is a free material and is never stocked. Leave this line out.",
                    material=self.material,
                ),
                field="material",
            )
        if self.quantity <= 0:
            raise InputError(_("The amount must be above zero."), field="quantity")
        if self.money < 0:
            raise InputError(_("A cost cannot be below zero."), field="money")


def open_stock(*, lines: Sequence[OpeningLine], submission: Submission) -> Posting:
    """Post what stood on the shelf when the books began, one lot a line. Raises InputError without a line."""
    with open_ledger(submission, facts=[submission.on, lines]) as ledger:
        if ledger.earlier is not None:
            return ledger.earlier
        if not lines:
            raise InputError(_("Opening stock needs at least one line."), field="lines")
        draft = ledger.draft(PostingKind.OPENING)
        lots = create_all(
            Lot(
                material=line.material,
                origin=Lot.Origin.OPENING,
                received_on=submission.on,
                opened_on=line.opened_on,
                best_before=line.best_before,
                place=line.place,
            )
            for line in lines
        )
        for line, lot in zip(lines, lots, strict=True):
            draft.receive(lot, quantity=line.quantity, money=line.money)
        return draft.seal()


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
                    "Carriage cannot be shared by weight: the weight of {material} is unknown. Enter "
                    "its density, or share by value.",
                    material=line.material,
                )
            )
    return masses
