"""Count gains: the bottle held more than the books say."""

from collections.abc import Callable, Sequence
from datetime import date
from typing import TypeVar

from django.db import transaction

from inventory.errors import NotEnough, ShelfShortfall
from inventory.ledger import costing_methods as costflow
from inventory.ledger.accounts import GAIN
from inventory.ledger.models import Entry, Lot, Place, Posting, PostingKind
from inventory.ledger.posting import LockedLedger
from inventory.materials.models import Material
from studio.translation import _
from studio.values.allocation import divide_half_up

Made = TypeVar("Made")


def with_confirmation(post: Callable[[], Made], *, ledger: LockedLedger, on: date, confirm: bool) -> Made:
    """Run a writer's posting; where the shelf is short and she confirmed, post the gain first and run it again."""
    if not confirm:
        return post()
    try:
        with transaction.atomic():
            return post()
    except NotEnough as refusal:
        post_gain(ledger, refusal.shortfalls, on=on)
    return post()


def post_gain(ledger: LockedLedger, shortfalls: Sequence[ShelfShortfall], *, on: date) -> Posting:
    """Add what was missing to the shelf, at the material's usual cost, as a gain that stays visible in the books."""
    note = _("There was more in stock than recorded")
    draft = ledger.draft(PostingKind.COUNT_GAIN, on=on, note=note, answers=False)
    materials = Material.objects.in_bulk([item.material for item in shortfalls])
    draft.load(materials.values())
    for item in shortfalls:
        material = materials[item.material]
        lot = _lot_that_held_more(material, on, draft.draws_by_expiry)
        draft.receive(lot, quantity=item.short, money=usual_cost(material, item.short), source=GAIN)
    return draft.seal()


def usual_cost(material: Material, quantity: int) -> int:
    """Cost of a quantity at the material's latest known unit cost, in millionths; nothing when it was never received.

    The best evidence of what unlisted paint cost is what the last receipt of it cost.
    """
    latest = (
        Entry.objects.standing()
        .filter(material=material, place=Place.LOT, quantity__gt=0, money__gt=0)
        .order_by("-posting_id", "-line")
        .first()
    )
    return divide_half_up(latest.money * quantity, latest.quantity) if latest else 0


def _lot_that_held_more(material: Material, on: date, by_expiry: bool) -> Lot:
    """The lot in use (drawing order), else the latest one, else a new lot found at a count."""
    lots = list(Lot.objects.filter(material=material, received_on__lte=on).select_related("balance"))
    if not lots:
        return Lot.objects.create(material=material, origin=Lot.Origin.COUNT, received_on=on)
    by_id = {lot.pk: lot for lot in lots}
    in_use = [
        costflow.Holding(lot.pk, lot.balance.quantity, lot.balance.money, lot.best_before, lot.received_on)
        for lot in lots
        if hasattr(lot, "balance") and lot.balance.quantity
    ]
    return (
        by_id[costflow.draw_order(in_use, by_expiry=by_expiry)[-1].lot]
        if in_use
        else max(lots, key=lambda lot: (lot.received_on, lot.pk))
    )
