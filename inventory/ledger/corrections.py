"""A late change to what a lot cost: posted visibly, spread over everything the lot has become.

The lot's quantity is followed through mixes and decanting to where it is now: still on the shelf, in unsold
work, sold, or lost. Each gets its share by quantity, so a correction never lands silently on what happens to
be left.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Sum

from inventory.errors import InventoryError
from inventory.ledger.accounts import OUTSIDE, AccountReference, lot_account
from inventory.ledger.models import Entry, Lot, Place, Posting, PostingKind
from inventory.ledger.movements import Movement, RecordedMovement, recorded_movements
from inventory.ledger.posting import open_ledger, update_average_cost
from studio.submission import Submission
from studio.translation import _
from studio.values.allocation import allocate


@dataclass(frozen=True, slots=True)
class Destination:
    """Where part of a lot is now: the place, the material that stands there, and the correction's share of money."""

    account: AccountReference
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
            if destination.account.place != Place.OUTSIDE:
                draft.move(
                    OUTSIDE, destination.account, destination.material, quantity=0, money=destination.money
                )
        _refuse_below_nothing(draft.movements)
        posting = draft.seal()
        if ledger.uses_average_cost:
            in_lots = {each.material_id for each in draft.movements if each.destination.lot}
            update_average_cost(ledger, in_lots, after=posting)
        return posting


def spread(lot: Lot, difference: int) -> list[Destination]:
    """Share a difference over everything the lot has become, exactly.

    Raises InventoryError for a lot that never came in.
    """
    sums: dict[tuple[AccountReference, int], int] = defaultdict(int)
    waiting: list[tuple[AccountReference, int, int]] = [(lot_account(lot.pk), lot.material_id, difference)]
    while waiting:
        account, material, money = waiting.pop()
        stays, gone = _flows(account, material)
        weights = [stays, *gone.values()]
        if not any(weights):
            raise InventoryError(
                _(
                    "The posting that brought in {lot} has been reversed, so there is no cost to correct.",
                    lot=lot.label,
                )
            )
        shares = allocate(money, weights)
        sums[account, material] += shares[0]
        for (destination, given), part in zip(gone, shares[1:], strict=True):
            waiting.append((destination, given, part))
    return [Destination(account, material, money) for (account, material), money in sums.items() if money]


def _flows(account: AccountReference, material: int) -> tuple[int, dict[tuple[AccountReference, int], int]]:
    """What a place still holds of a material, and what it gave to which other place.

    Reversed postings never happened.
    """
    if account.place in (Place.LOSS, Place.OUTSIDE, Place.GAIN):
        return 1, {}
    entries = Entry.objects.standing().filter(
        place=account.place, lot=account.lot, pour=account.pour, material=material
    )
    stays = 0
    gone: dict[tuple[AccountReference, int], int] = defaultdict(int)
    for each in recorded_movements(entries.exclude(quantity=0)):
        is_given = each.source == account
        given = each.quantity if is_given else -each.quantity
        stays -= given
        if given > 0:
            gone[_destination(each) if is_given else (each.source, material)] += given
    return max(stays, 0), dict(gone)


def _destination(given: RecordedMovement) -> tuple[AccountReference, int]:
    """Who took what was given; a mix stands for the lot that came out of it."""
    if given.destination.mix is None:
        return given.destination, given.material_id
    came_out = Entry.objects.standing().filter(mix=given.destination.mix, quantity__lt=0)
    [made] = recorded_movements(came_out)
    return made.destination, made.material_id


def _refuse_below_nothing(movements: Iterable[Movement]) -> None:
    for each in movements:
        if each.money >= 0:
            continue
        account = each.destination
        there = Entry.objects.filter(
            place=account.place,
            material=each.material_id,
            lot=account.lot,
            pour=account.pour,
            reason=account.reason,
        )
        if (there.aggregate(held=Sum("money"))["held"] or 0) + each.money < 0:
            raise InventoryError(_("Part of this lot would have a negative cost. Check the difference."))
