"""What a check of the books looks at in purchasing: every delivery against what its lots were charged."""

from collections import Counter, defaultdict
from itertools import groupby
from typing import NamedTuple

from django.db.models import Sum

from inventory.ledger.corrections import came_in
from inventory.ledger.findings import Tally
from inventory.ledger.models import Entry, Place
from inventory.ledger.restatement import day_moved_to
from inventory.ledger.restating import posted_facts
from inventory.purchasing.models import Delivery, DeliveryCorrection, DeliveryLine
from studio.preferences.models import Studio
from studio.translation import _
from studio.values.allocation import divide_half_up

ROWS_AT_A_TIME = 5_000


class Invoice(NamedTuple):
    """What a delivery says it cost."""

    pk: int
    invoiced: int
    paid: int
    carriage: int
    duty: int
    tax: int
    currency: str
    rate_digits: int | None
    rate_places: int | None


def check_deliveries(using: str, tally: Tally) -> None:
    """The ledger's own entries and their corrections against the delivery's lines, and these against the invoice."""
    lines = (
        DeliveryLine.objects.using(using)
        .order_by("delivery_id")
        .values_list("delivery_id", "lot_id", "quantity", "price", "landed")
    )
    invoices = Delivery.objects.using(using).order_by().values_list(*Invoice._fields)
    deliveries = {invoice.pk: invoice for invoice in map(Invoice._make, invoices)}
    home = Studio.objects.using(using).get().currency
    corrected = _corrected(using)
    receipts, missing = _receipts(using)
    for delivery, group in groupby(lines.iterator(chunk_size=ROWS_AT_A_TIME), key=lambda line: line[0]):
        invoiced = landed = 0
        for _delivery, lot, quantity, price, cost in group:
            tally.checked["deliveries"] += 1
            missing[delivery] -= 1
            invoiced += price
            landed += cost
            more, dearer = corrected[delivery, lot]
            entered, charged = receipts.get((delivery, lot), (0, 0))
            entered, charged = entered + more, charged + dearer
            if (quantity, cost) != (entered, charged):
                where = _("delivery {delivery}, lot {lot}", delivery=delivery, lot=lot)
                tally.tell("deliveries", where, _mismatch(quantity, cost, entered, charged))
        for mismatch in _against_invoice(deliveries.get(delivery), invoiced, landed, home):
            tally.tell("deliveries", _("delivery {delivery}", delivery=delivery), mismatch)
    _check_days(using, tally)
    for delivery, lots in missing.items():
        if lots > 0:
            mismatch = _("{lots} of the lots that came in are on none of its lines", lots=lots)
            tally.tell("deliveries", _("delivery {delivery}", delivery=delivery), mismatch)


def _against_invoice(delivery: Invoice | None, invoiced: int, landed: int, home: str) -> list[str]:
    """What disagrees in the sums of a delivery: its lines, the invoice, what was paid, and what landed."""
    if delivery is None:
        return [_("{landed} landed of {paid} paid", landed=landed, paid=0)]
    mismatches = []
    if invoiced != delivery.invoiced:
        mismatches.append(
            _("its lines cost {lines}, the invoice {invoiced}", lines=invoiced, invoiced=delivery.invoiced)
        )
    if delivery.paid != _paid(delivery, home):
        mismatches.append(
            _("{paid} paid for an invoice of {invoiced}", paid=delivery.paid, invoiced=delivery.invoiced)
        )
    paid = delivery.paid + delivery.carriage + delivery.duty + delivery.tax
    if landed != paid:
        mismatches.append(_("{landed} landed of {paid} paid", landed=landed, paid=paid))
    return mismatches


def _paid(delivery: Invoice, home: str) -> int | None:
    """What the invoice must have cost in the home currency, as far as its rate or its currency says.

    None for a rate that is not whole, or that an invoice in the home currency cannot have.
    """
    digits, places = delivery.rate_digits, delivery.rate_places
    if digits is None and places is None:
        return delivery.invoiced if delivery.currency == home else delivery.paid
    if digits is None or places is None or delivery.currency == home:
        return None
    return divide_half_up(delivery.invoiced * digits, 10**places)


def _corrected(using: str) -> dict[tuple[int, int], tuple[int, int]]:
    """By how much the standing corrections of each delivery changed each of its lots: quantity and cost."""
    corrections = DeliveryCorrection.objects.using(using).filter(posting__reversed_by__isnull=True)
    deliveries = dict(corrections.values_list("posting_id", "delivery_id"))
    changes: dict[tuple[int, int], tuple[int, int]] = defaultdict(lambda: (0, 0))
    for posting in posted_facts(using, only=deliveries):
        for fact in came_in(posting.movements):
            place = deliveries[posting.number], fact.destination[1] or 0
            quantity, money = changes[place]
            changes[place] = quantity + fact.quantity, money + fact.money
    return changes


def _check_days(using: str, tally: Tally) -> None:
    """A delivery and its lots say the day on which its posting, as corrected, has them."""
    corrections = DeliveryCorrection.objects.using(using).filter(posting__reversed_by__isnull=True)
    all_deliveries = Delivery.objects.using(using).order_by()
    days = dict(all_deliveries.values_list("pk", "posting__effective_on"))
    deliveries = dict(corrections.values_list("posting_id", "delivery_id"))
    for posting in posted_facts(using, only=deliveries):
        moved_to = day_moved_to(came_in(posting.movements))
        if moved_to is not None:
            days[deliveries[posting.number]] = moved_to
    rows = all_deliveries.values_list("pk", "received_on", "lines__lot", "lines__lot__received_on")
    for delivery, received_on, lot, lot_received_on in rows.distinct():
        posted = days.get(delivery)  # none where its posting is gone
        if {received_on, lot_received_on} != {posted}:
            where = _("delivery {delivery}, lot {lot}", delivery=delivery, lot=lot)
            problem = _("received on {day}, but the ledger has {posted}", day=received_on, posted=posted)
            tally.tell("deliveries", where, problem)


def _receipts(using: str) -> tuple[dict[tuple[int, int], tuple[int, int]], Counter[int]]:
    """What each delivery's posting brought into each lot, quantity and cost, and how many lots each brought in."""
    came_in = Entry.objects.using(using).filter(place=Place.LOT, quantity__gt=0)
    by_lot = (
        came_in.filter(posting__delivery__isnull=False).order_by().values_list("posting__delivery", "lot")
    )
    receipts, lots = dict[tuple[int, int], tuple[int, int]](), Counter[int]()
    for delivery, lot, quantity, money in by_lot.annotate(quantities=Sum("quantity"), costs=Sum("money")):
        receipts[delivery, lot] = quantity, money
        lots[delivery] += 1
    return receipts, lots


def _mismatch(quantity: int, cost: int, entered: int, charged: int) -> str:
    return _(
        "delivered {quantity} at {cost}, but the ledger has {entered} at {charged}",
        quantity=quantity,
        cost=cost,
        entered=entered,
        charged=charged,
    )
