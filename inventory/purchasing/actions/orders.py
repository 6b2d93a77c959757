"""Writers for orders: asked for, changed, sent, chased, closed and opened again. What has come closes one by itself.

An order moves nothing, but what is on order decides with the shelf: each of these takes the ledger's lock.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db.models import Max

from inventory.errors import InventoryError
from inventory.ledger.posting import LockedLedger, open_ledger
from inventory.materials.models import Supplier
from inventory.purchasing.actions.delivery_facts import PackedLine, finer_than
from inventory.purchasing.actions.order_lines import change_lines, refuse_lines, write_lines
from inventory.purchasing.actions.settling import settle
from inventory.purchasing.incoming import progress_of
from inventory.purchasing.models import LINE_PRICES, LINES, Order, OrderChase, OrderLine, SentBy
from studio.auditing.edit_conflicts import lock_row, refuse_stale
from studio.auditing.recording import record_change, recorded
from studio.errors import InputError, refuse_all
from studio.preferences.models import Studio
from studio.submission import Submission
from studio.translation import _

COLUMNS = ("ordered_on", "reference", "sent_on", "sent_by", "notes")


class OrderIsClosed(InventoryError):
    """Raised when an order from which nothing more is expected would be changed or chased, or one be opened in vain."""

    is_conflict = True


@dataclass(frozen=True, slots=True)
class OrderFacts:
    """Goods asked for; line prices are in `currency`, or else the supplier's. Raises InputError with all that is wrong.

    A line that changes one of the order's is an OrderLineFacts. Without an address, the studio's own is written down.
    """

    supplier: Supplier
    ordered_on: date
    lines: Sequence[PackedLine]
    expected_on: date | None = None
    reference: str = ""
    notes: str = ""
    deliver_to: str | None = None
    sent_on: date | None = None
    sent_by: str = ""
    currency: str = ""

    def __post_init__(self) -> None:
        problems = []
        object.__setattr__(self, "currency", self.currency or self.supplier.currency)
        if self.expected_on is not None and self.expected_on < self.ordered_on:
            problems.append(
                InputError(_("The expected date is before the order date. Check both."), field="expected_on")
            )
        if self.sent_by and self.sent_on is None:
            problems.append(InputError(_("Enter the day on which it was sent."), field="sent_on"))
        if not self.lines:
            problems.append(InputError(_("An order needs at least one line."), field="lines"))
        for number, line in enumerate(self.lines, start=1):
            if too_fine := finer_than(self.currency, line.price):
                problems.append(InputError(too_fine, field="price", line=number))
        refuse_all([*problems, *refuse_lines(self.lines)])

    @property
    def columns(self) -> dict[str, Any]:
        """What is kept on the order's own row."""
        return {name: getattr(self, name) for name in COLUMNS}


@dataclass(frozen=True, slots=True)
class ChaseFacts:
    """A supplier was asked where an order is: on which day, which new day it promised, what it said."""

    asked_on: date
    promised_on: date | None = None
    note: str = ""

    def __post_init__(self) -> None:
        if self.promised_on is not None and self.promised_on < self.asked_on:
            raise InputError(
                _("The promised day is before the day you asked. Check both."), field="promised_on"
            )


def place_order(*, facts: OrderFacts, submission: Submission, usual_days: int | None = None) -> Order:
    """Record an order under the next number.

    Without an expected day it is expected `usual_days` after it was ordered (what the supplier's deliveries have
    taught), or the supplier's stated lead time.
    """
    with open_ledger(submission, facts=["order", facts]) as ledger:
        earlier = ledger.earlier_record(Order)
        if earlier is not None:
            return earlier
        usual = timedelta(days=facts.supplier.lead_time_days if usual_days is None else usual_days)
        address = Studio.current().delivery_address if facts.deliver_to is None else facts.deliver_to
        order = Order.objects.create(
            number=(Order.objects.aggregate(last=Max("number"))["last"] or 0) + 1,
            supplier=facts.supplier,
            currency=facts.currency,
            expected_on=facts.expected_on or facts.ordered_on + usual,
            deliver_to=address,
            recorded_by=submission.by,
            key=submission.key,
            fingerprint=ledger.fingerprint,
            **facts.columns,
        )
        write_lines(order, facts.lines)
        ledger.touch(line.material.pk for line in facts.lines)
        return order


@contextmanager
def _changing(order: Order, submission: Submission, seen: int | None) -> Iterator[tuple[Order, LockedLedger]]:
    """The order as it is now, held while it changes. Raises EditConflict when it was changed after `seen`."""
    with open_ledger(submission) as ledger:
        lock_row(order)
        now = Order.objects.select_related("supplier").get(pk=order.pk)
        # Prices that somebody may not see are neither changed nor told of.
        kept = recorded(Order)
        names = [*kept.fields, LINES] if kept and not submission.by.sees_money else []
        refuse_stale(now, seen=seen, fields=names)
        ledger.touch(now.lines.values_list("material_id", flat=True))
        yield now, ledger
        ledger.touch(now.lines.values_list("material_id", flat=True))


def change_order(
    *, order: Order, facts: OrderFacts, submission: Submission, seen: int | None = None
) -> Order:
    """Change an open order. Lines that it leaves out are removed, unless something of them has come.

    Raises InputError naming the line, OrderIsClosed, EditConflict when it was changed after `seen`.
    """
    with _changing(order, submission, seen) as (now, _ledger):
        _refuse_closed(now)
        if facts.supplier.pk != now.supplier_id:
            raise InputError(
                _("The supplier of an order stays. Close this order and place another."), field="supplier"
            )
        before = _written(now)
        for name, value in facts.columns.items():
            setattr(now, name, value)
        now.expected_on = facts.expected_on or now.expected_on
        now.deliver_to = now.deliver_to if facts.deliver_to is None else facts.deliver_to
        now.save()
        change_lines(progress_of([now])[0], facts.lines)
        for field, new in _written(now).items():
            if before[field] != new:
                record_change(now, field=field, old=before[field], new=new)
        return settle(now)


def mark_sent(*, order: Order, sent_by: str, submission: Submission, seen: int | None = None) -> Order:
    """Say that an order was sent to the supplier on the submission's day, and how."""
    with _changing(order, submission, seen) as (now, _ledger):
        if sent_by not in SentBy.values:
            raise InputError(_("Choose how it was sent."), field="sent_by")
        now.sent_on, now.sent_by = submission.on, sent_by
        now.save()
        return now


def chase_order(*, order: Order, facts: ChaseFacts, submission: Submission) -> OrderChase:
    """Record that the supplier was asked where an order is; a promised day is the expected one from now on.

    Raises InputError, OrderIsClosed.
    """
    with open_ledger(submission, facts=["chase", order, facts]) as ledger:
        earlier = ledger.earlier_record(OrderChase)
        if earlier is not None:
            return earlier
        lock_row(order)
        now = Order.objects.get(pk=order.pk)
        _refuse_closed(now)
        if facts.asked_on < now.ordered_on:
            raise InputError(_("That is before the order was placed. Check the day."), field="asked_on")
        if submission.is_ahead(facts.asked_on):
            raise InputError(_("Use today's date or an earlier one."), field="asked_on")
        chase = OrderChase.objects.create(
            order=now,
            recorded_at=submission.at,
            asked_on=facts.asked_on,
            expected_before=now.expected_on,
            promised_on=facts.promised_on,
            note=facts.note,
            recorded_by=submission.by,
            key=submission.key,
            fingerprint=ledger.fingerprint,
        )
        if facts.promised_on is not None:
            now.expected_on = facts.promised_on
            now.save()
        ledger.touch(now.lines.values_list("material_id", flat=True))
        return chase


def close_order(*, order: Order, submission: Submission, seen: int | None = None) -> Order:
    """Expect nothing more from an order: what has not come will not. Raises EditConflict."""
    with _changing(order, submission, seen) as (now, _ledger):
        if not now.is_closed:
            now.is_closed, now.rest_cancelled = True, not progress_of([now])[0].has_all_come
            now.save()
        return now


def reopen_order(*, order: Order, submission: Submission, seen: int | None = None) -> Order:
    """Expect the rest of an order after all. Raises OrderIsClosed when everything has come, EditConflict."""
    with _changing(order, submission, seen) as (now, _ledger):
        if now.is_closed and not now.rest_cancelled:
            raise OrderIsClosed(
                _("Everything on this order has been received. Place a new order to get more.")
            )
        now.is_closed = now.rest_cancelled = False
        now.save()
        return settle(now)


def _refuse_closed(order: Order) -> None:
    if order.is_closed:
        raise OrderIsClosed(_("“{order}” is closed. Open it again first.", order=order))


def _written(order: Order) -> dict[str, list[dict[str, Any]]]:
    """The lines of an order for the change log, with the names and pack sizes of today."""
    lines = list(OrderLine.objects.filter(order=order).select_related("material").order_by("pk"))
    return {
        LINES: [
            {"packs": line.packs, "pack": line.pack_in_words, "material": line.material.name}
            for line in lines
        ],
        LINE_PRICES: [
            {"material": line.material.name, "price": line.price, "currency": order.currency}
            for line in lines
        ],
    }
