"""A late change to what a lot cost: posted visibly, spread over everything the lot has become.

The lot's quantity is followed through mixes and decanting to where it is now: still on the shelf, in unsold
work, sold, or lost. Each gets its share by quantity, so a correction never lands silently on what happens to
be left.
"""

from collections import defaultdict
from dataclasses import dataclass

from django.db.models import Sum

from inventory.errors import InventoryError
from inventory.ledger.accounts import OUTSIDE, Spot
from inventory.ledger.hash_chain import Line
from inventory.ledger.models import Entry, Lot, Place, Posting, PostingKind
from inventory.ledger.posting import even_out, open_ledger
from inventory.ledger.reversals import spot_of
from studio.submission import Submission
from studio.translation import _
from studio.values.allocation import allocate


@dataclass(frozen=True, slots=True)
class Destination:
    """Where part of a lot is now: the place, the material that stands there, and the correction's share of money."""

    spot: Spot
    material: int
    money: int


def correct_cost(*, lot: Lot, difference: int, note: str, submission: Submission) -> Posting:
    """Add a difference (millionths, positive or negative) to what a lot cost.

    Raises InventoryError when it would go below nothing.
    """
    with open_ledger(submission, facts=["cost", lot, difference, submission.on, note]) as ledger:
        if ledger.earlier is not None:
            return ledger.earlier
        if not difference:
            raise InventoryError(_("The cost has not changed, so there is nothing to correct."))
        draft = ledger.draft(PostingKind.COST_CORRECTION, note=note)
        for destination in spread(lot, difference):
            if destination.spot.place != Place.OUTSIDE:
                draft.move(
                    OUTSIDE, destination.spot, destination.material, quantity=0, money=destination.money
                )
        _refuse_below_nothing(draft.entries)
        posting = draft.seal()
        if ledger.averages:
            even_out(ledger, {entry.material_id for entry in draft.entries if entry.lot_id}, after=posting)
        return posting


def spread(lot: Lot, difference: int) -> list[Destination]:
    """Share a difference over everything the lot has become, exactly.

    Raises InventoryError for a lot that never came in.
    """
    found: dict[tuple[Spot, int], int] = defaultdict(int)
    waiting: list[tuple[Spot, int, int]] = [(Spot(Place.LOT, lot=lot.pk), lot.material_id, difference)]
    while waiting:
        spot, material, money = waiting.pop()
        stays, gone = _flows(spot, material)
        weights = [stays, *gone.values()]
        if not any(weights):
            raise InventoryError(
                _(
                    "The posting that brought in {lot} has been reversed, so there is no cost to correct.",
                    lot=lot.label,
                )
            )
        shares = allocate(money, weights)
        found[spot, material] += shares[0]
        for (taker, taken), part in zip(gone, shares[1:], strict=True):
            waiting.append((taker, taken, part))
    return [Destination(spot, material, money) for (spot, material), money in found.items() if money]


def _flows(spot: Spot, material: int) -> tuple[int, dict[tuple[Spot, int], int]]:
    """What a place still holds of a material, and what it gave to which other place.

    Reversed postings never happened.
    """
    if spot.place in (Place.LOSS, Place.OUTSIDE, Place.GAIN):
        return 1, {}
    entries = Entry.objects.filter(
        place=spot.place,
        lot=spot.lot,
        pour=spot.pour,
        material=material,
        posting__reversed_by__isnull=True,
        posting__reverses__isnull=True,
    ).exclude(quantity=0)
    stays = 0
    gone: dict[tuple[Spot, int], int] = defaultdict(int)
    for entry in entries:
        stays += entry.quantity
        if entry.quantity < 0:
            for taker in _takers(entry):
                gone[taker] -= entry.quantity
    return max(stays, 0), dict(gone)


def _takers(giver: Entry) -> list[tuple[Spot, int]]:
    """Who took what an entry gave: its partner in the move; a mixing cup stands for the lot that came out of it."""
    partner_line = giver.line + 1 if giver.line % 2 else giver.line - 1
    partner = Entry.objects.select_related("mix__lot").get(posting_id=giver.posting_id, line=partner_line)
    if partner.mix is not None:
        return [(Spot(Place.LOT, lot=partner.mix.lot_id), partner.mix.lot.material_id)]
    return [(spot_of(partner), partner.material_id)]


def _refuse_below_nothing(entries: list[Line]) -> None:
    falls = [entry for entry in entries if entry.place != Place.OUTSIDE and entry.money < 0]
    for entry in falls:
        there = Entry.objects.filter(
            place=entry.place,
            material=entry.material_id,
            lot=entry.lot_id,
            pour=entry.pour_id,
            reason=entry.reason_id,
        )
        if (there.aggregate(held=Sum("money"))["held"] or 0) + entry.money < 0:
            raise InventoryError(_("Part of this lot would have a negative cost. Check the difference."))
