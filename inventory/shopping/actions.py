"""Writers of the shopping list: added to, ticked, chosen from, and turned into orders.

Saying the same twice changes nothing: an amount replaces what was added before, a tick stays a tick.
"""

import hashlib
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from django.db import transaction as database

from inventory.errors import InventoryError
from inventory.ledger.keyed_records import rows_under_key
from inventory.ledger.posting import lock, open_ledger
from inventory.materials.models import MOST, Material, Supplier, Supply
from inventory.purchasing.actions.delivery_facts import PackedLine
from inventory.purchasing.actions.orders import OrderFacts, place_order
from inventory.purchasing.models import DeliveryLine, Order
from inventory.shopping.models import LONGEST_TEXT, ShoppingEntry
from inventory.shopping.prices import pack_price
from inventory.shopping.queries import ShoppingList, shopping_list
from studio.errors import InputError, refuse_all
from studio.submission import Submission, transaction
from studio.translation import _


class ListChanged(InventoryError):
    """Raised when an order is asked for that is not what the list says now."""

    is_conflict = True


@dataclass(frozen=True, slots=True)
class Addition:
    """Something to buy: so much of a material, or anything else in a few words. Raises InputError."""

    material: Material | None = None
    quantity: int | None = None
    text: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "text", " ".join(self.text.split()))
        refuse_all(self._problems())

    def _problems(self) -> list[InputError]:
        if (self.material is None) == (not self.text):
            return [
                InputError(_("Choose a material, or write what else to buy: one of the two."), field="text")
            ]
        if self.material is None:
            if self.quantity is not None:
                advice = _("Write the amount into the text, or choose a material.")
                return [InputError(advice, field="quantity")]
            too_long = _("At most {most} characters.", most=LONGEST_TEXT)
            return [InputError(too_long, field="text")] if len(self.text) > LONGEST_TEXT else []
        if self.material.is_free or self.material.is_archived:
            advice = _("{name} is not bought: it is free, or archived.", name=self.material)
            return [InputError(advice, field="material")]
        if not self.quantity or self.quantity < 1:
            return [InputError(_("Enter how much, such as 500 ml or 3."), field="quantity")]
        return []


def add_to_list(*, addition: Addition, submission: Submission) -> ShoppingEntry:
    """Put something on the list. An amount of a material that was added before is replaced."""
    with transaction(submission):
        lock()
        row = (
            _entry_of(addition.material, submission)
            if addition.material is not None
            else ShoppingEntry.objects.filter(text__iexact=addition.text).first()
            or _new_entry(submission, text=addition.text)
        )
        row.quantity = addition.quantity
        row.ticked_at = row.ticked_by = None
        row.save()
        return row


def tick(
    *,
    ticked: bool,
    submission: Submission,
    material: Material | None = None,
    entry: ShoppingEntry | None = None,
) -> None:
    """Say that something is in the basket, or is not. It is a material of the list, or an entry in words."""
    with transaction(submission):
        lock()
        row = _entry_of(material, submission) if material is not None else entry
        if row is None or row.is_ticked == ticked:
            return
        row.ticked_at = submission.at if ticked else None
        row.ticked_by = submission.by if ticked else None
        _keep(row)


def choose(*, supply: Supply, packs: int, submission: Submission) -> ShoppingEntry:
    """Buy so many of a pack, whatever is cheapest. Raises InputError."""
    if not supply.minimum_packs <= packs <= MOST:
        advice = _(
            "Enter a whole number of packs from {least} to {most}.", least=supply.minimum_packs, most=MOST
        )
        raise InputError(advice, field="packs")
    with transaction(submission):
        lock()
        row = _entry_of(supply.material, submission)
        row.supply, row.packs = supply, packs
        row.save()
        return row


def leave_to_the_list(*, material: Material, submission: Submission) -> None:
    """Take back the choice of a pack."""
    with transaction(submission):
        lock()
        row = _entry_of(material, submission)
        row.supply = row.packs = None
        _keep(row)


def remove(*, entry: ShoppingEntry, submission: Submission) -> None:
    """Take off the list what was added by hand, with the choice of its pack. What is low stays on it."""
    with transaction(submission):
        lock()
        ShoppingEntry.objects.filter(pk=entry.pk).delete()


def clear_ticked(*, submission: Submission) -> int:
    """Take everything off that is ticked; return how much. What is low by then comes back without its tick."""
    with transaction(submission):
        lock()
        return ShoppingEntry.objects.filter(ticked_at__isnull=False).delete()[0]


def order_from_list(
    *, packs: Sequence[tuple[int, int]], submission: Submission, listed: ShoppingList | None = None
) -> list[Order]:
    """Place an order with each supplier for these packs of the list: pairs of a pack's number and how many.

    They are what somebody saw. Raises ListChanged when the list says otherwise by now, InputError for unknown packs.
    The same submission sent again gets the orders that it made.
    """
    supplies = Supply.objects.select_related("supplier", "material").prefetch_related("price_breaks")
    sold = supplies.in_bulk([supply for supply, _count in packs])
    if not packs or len(sold) < len(packs):
        raise InputError(
            _("Nothing to order, or a pack that is not sold any more. Reload the list."), field="lines"
        )
    by_supplier: dict[int, list[tuple[Supply, int]]] = {}
    for number, count in packs:
        by_supplier.setdefault(sold[number].supplier_id, []).append((sold[number], count))
    with open_ledger(submission):
        asked = {supplier: supplier_submission(submission, supplier) for supplier in by_supplier}
        fresh = [pk for pk, each in asked.items() if not (each.key and rows_under_key(Order, each).exists())]
        if fresh:
            _refuse_changed(fresh, by_supplier, listed or shopping_list(submission.on))
        orders = [
            place_order(facts=_order_facts(bought, submission), submission=asked[supplier])
            for supplier, bought in by_supplier.items()
        ]
        clear_ordered({supply.material_id for pk in fresh for supply, _count in by_supplier[pk]})
    return orders


def _pairs(bought: Sequence[tuple[Supply, int]]) -> list[tuple[int, int]]:
    return [(supply.pk, count) for supply, count in bought]


def supplier_submission(submission: Submission, supplier: int) -> Submission:
    """The part of a submission that orders from one supplier has a key of its own, always the same."""
    if not submission.key:
        return submission
    key = hashlib.sha256(f"{submission.key} {supplier}".encode()).hexdigest()[:40]
    return replace(submission, key=key)


def _refuse_changed(
    suppliers: Sequence[int], asked: dict[int, list[tuple[Supply, int]]], listed: ShoppingList
) -> None:
    now = {
        part.supplier.pk: {
            (packs.supply.pk, packs.count)
            for line in part.lines
            if not line.is_ticked
            for packs in line.packs
        }
        for part in listed.parts
    }
    if any(set(_pairs(asked[supplier])) != now.get(supplier) for supplier in suppliers):
        raise ListChanged(
            _("The shopping list has changed since you opened it. Nothing was ordered. Look at it again.")
        )


def _order_facts(bought: Sequence[tuple[Supply, int]], submission: Submission) -> OrderFacts:
    supplier: Supplier = bought[0][0].supplier
    lines = [
        PackedLine(supply.material, supply.pack_size, pack_price(supply, count) * count, count)
        for supply, count in bought
    ]
    return OrderFacts(supplier, submission.on, lines)


def order_as_changed(*, facts: OrderFacts, submission: Submission, usual_days: int | None = None) -> Order:
    """Place an order that was filled in from the list and changed; its materials are then dealt with."""
    with open_ledger(submission):
        order = place_order(facts=facts, submission=submission, usual_days=usual_days)
        clear_ordered({line.material.pk for line in facts.lines})
        return order


def clear_ordered(materials: Collection[int]) -> None:
    """Forget what was said of materials that have been ordered."""
    ShoppingEntry.objects.filter(material__in=materials).delete()


def clear_received(*, materials: Collection[int], at: datetime, **signal: object) -> None:
    """Forget what is ticked once a delivery of it has been logged: connected when the app starts."""
    ticked = ShoppingEntry.objects.filter(material__in=materials, ticked_at__isnull=False)
    if not ticked.exists():  # nearly always: whoever posts next does not wait for that
        return
    with database.atomic():
        for row in ticked:
            came = DeliveryLine.objects.filter(
                lot__material=row.material_id, delivery__posting__recorded_at__gte=row.ticked_at
            )
            if came.exists():
                row.delete()


def _entry_of(material: Material, submission: Submission) -> ShoppingEntry:
    found = ShoppingEntry.objects.filter(material=material).first()
    return found or _new_entry(submission, material=material)


def _new_entry(submission: Submission, *, material: Material | None = None, text: str = "") -> ShoppingEntry:
    return ShoppingEntry(material=material, text=text, added_at=submission.at, added_by=submission.by)


def _keep(row: ShoppingEntry) -> None:
    """Save an entry, or delete it once it says nothing any more."""
    if not row.says_nothing:
        row.save()
    elif row.pk is not None:
        row.delete()
