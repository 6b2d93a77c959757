"""A late change to what came in, or cost: posted visibly, and restated in everything that the lot has become."""

from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from django.db.models import Q, Sum

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


def correct_receipt(
    *, lot: Lot, difference: int, note: str, submission: Submission, quantity: int = 0
) -> Posting:
    """Add a difference of cost (millionths) and of quantity (thousandths) to what a lot was when it came in.

    Either may be below zero. A changed quantity is posted on the day of receipt, or the first open one. Raises
    InventoryError when something that it became would cost less than nothing, BelowZeroOnDay when more was used.
    """
    facts = ["cost", lot, difference, quantity, submission.on, note]
    with open_ledger(submission, facts=facts) as ledger:
        if ledger.earlier is not None:
            return ledger.earlier
        if not difference and not quantity:
            raise InventoryError(_("The cost has not changed, so there is nothing to correct."))
        receipt = _receipt_of(lot)
        came_in = ledger.books.open_day(receipt.effective_on)
        draft = ledger.draft(PostingKind.CORRECTION, note=note, on=came_in if quantity else None)
        _correct(draft, receipt, lot, difference, quantity)
        with _refusing_negative_cost(quantity):
            return draft.seal()


def spread(lot: Lot, difference: int, quantity: int = 0) -> list[Destination]:
    """Where a difference would go: by how much each account changes, mixing cups and the outside apart.

    Raises InventoryError for a lot that never came in, or would cost less than nothing.
    """
    receipt = _receipt_of(lot)
    draft = rehearsal(receipt.effective_on)
    _correct(draft, receipt, lot, difference, quantity)
    with _refusing_negative_cost(quantity):
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


def received(lot: Lot) -> int:
    """What came in with a lot, as corrected since, in thousandths."""
    receipt = _receipt_of(lot)
    entries = Entry.objects.standing().filter(Q(posting=receipt) | Q(posting__corrects=receipt), lot=lot)
    return entries.filter(place=Place.LOT).exclude(quantity=0).aggregate(total=Sum("quantity"))["total"] or 0


@contextmanager
def _refusing_negative_cost(quantity: int) -> Iterator[None]:
    try:
        yield
    except BelowZeroOnDay as problem:
        if quantity:
            raise
        raise InventoryError(
            _("Part of this lot would have a negative cost. Check the difference.")
        ) from problem


def _receipt_of(lot: Lot) -> Posting:
    entry = (
        Entry.objects.standing()
        .filter(lot=lot, quantity__gt=0)
        .select_related("posting")
        .order_by("posting_id", "line")
        .first()
    )
    if entry is None:
        raise InventoryError(
            _(
                "The posting that brought in {lot} has been reversed, so there is no cost to correct.",
                lot=lot.label,
            )
        )
    return entry.posting


def _correct(draft: PostingDraft, receipt: Posting, lot: Lot, difference: int, quantity: int) -> None:
    draft.posting.corrects = receipt
    day = draft.posting.effective_on if quantity else draft.books.open_day(receipt.effective_on)
    draft.move(OUTSIDE, lot_account(lot.pk), lot.material_id, quantity=quantity, money=difference, on=day)
