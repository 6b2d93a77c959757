"""A late change to what a lot cost: posted visibly, and restated in everything that the lot has become."""

from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from inventory.errors import BelowZeroOnDay, InventoryError
from inventory.ledger.accounts import OUTSIDE, AccountReference, lot_account
from inventory.ledger.models import Entry, Lot, Place, Posting, PostingKind
from inventory.ledger.posting import PostingDraft, open_ledger, rehearsal
from studio.submission import Submission
from studio.translation import _


@dataclass(frozen=True, slots=True)
class Destination:
    """Where part of a lot is now: the account, the material that is there, and the correction's share of money."""

    account: AccountReference
    material: int
    money: int


def correct_cost(*, lot: Lot, difference: int, note: str, submission: Submission) -> Posting:
    """Add a difference (millionths, positive or negative) to what a lot cost when it came in.

    Raises InventoryError when something that it became would cost less than nothing.
    """
    with open_ledger(submission, facts=["cost", lot, difference, submission.on, note]) as ledger:
        if ledger.earlier is not None:
            return ledger.earlier
        if not difference:
            raise InventoryError(_("The cost has not changed, so there is nothing to correct."))
        draft = ledger.draft(PostingKind.CORRECTION, note=note)
        _correct(draft, lot, difference)
        with _refusing_negative_cost():
            return draft.seal()


def spread(lot: Lot, difference: int) -> list[Destination]:
    """Where a difference would go: by how much each account changes, mixing cups and the outside apart.

    Raises InventoryError for a lot that never came in, or would cost less than nothing.
    """
    draft = rehearsal(lot.received_on)
    _correct(draft, lot, difference)
    with _refusing_negative_cost():
        lines = [*draft.movements, *draft.restated()]
    sums: dict[tuple[AccountReference, int], int] = defaultdict(int)
    for each in lines:
        sums[each.source, each.material_id] -= each.money
        sums[each.destination, each.material_id] += each.money
    return [
        Destination(account, material, money)
        for (account, material), money in sums.items()
        if money and account.place not in (Place.OUTSIDE, Place.MIX)
    ]


@contextmanager
def _refusing_negative_cost() -> Iterator[None]:
    try:
        yield
    except BelowZeroOnDay as problem:
        raise InventoryError(
            _("Part of this lot would have a negative cost. Check the difference.")
        ) from problem


def _correct(draft: PostingDraft, lot: Lot, difference: int) -> None:
    receipt = (
        Entry.objects.standing()
        .filter(lot=lot, quantity__gt=0)
        .select_related("posting")
        .order_by("posting_id", "line")
        .first()
    )
    if receipt is None:
        raise InventoryError(
            _(
                "The posting that brought in {lot} has been reversed, so there is no cost to correct.",
                lot=lot.label,
            )
        )
    draft.posting.corrects = receipt.posting
    day = draft.open_day(receipt.posting.effective_on)
    draft.move(OUTSIDE, lot_account(lot.pk), lot.material_id, quantity=0, money=difference, on=day)
