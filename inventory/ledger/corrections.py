"""A late change to what came in, when, or at what cost: posted visibly, and restated in all that it has become."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from django.db.models import Q

from inventory.errors import ClosedPeriod, InventoryError, LedgerError, day_in_words
from inventory.ledger.accounts import OUTSIDE, lot_account
from inventory.ledger.models import Entry, Lot, Posting, PostingKind
from inventory.ledger.posting import PostingDraft
from inventory.ledger.restatement import LOT, Fact, day_moved_to
from inventory.ledger.restating import posted_facts
from studio.submission import Submission
from studio.translation import _

# Postings that bring something in at a cost, by lots.
RECEIPTS = (PostingKind.OPENING, PostingKind.DELIVERY)


@dataclass(frozen=True, slots=True)
class ReceiptChange:
    """By how much a lot was more, and cost more, than is recorded: thousandths and millionths; below zero for less."""

    lot: Lot
    quantity: int = 0
    money: int = 0


@dataclass(frozen=True, slots=True)
class Receipt:
    """A receipt as corrected so far: its day, and what came in with each lot (thousandths, millionths)."""

    posting: Posting
    day: date
    lots: Mapping[int, tuple[int, int]]


def last_correction(posting: Posting) -> int:
    """The number of the last standing correction of a posting; 0 for none."""
    standing = posting.corrected_by.filter(reversed_by__isnull=True)
    return standing.order_by("-number").values_list("number", flat=True).first() or 0


def refuse_overtaken(receipt: Posting, seen: int | None) -> None:
    """Raise InventoryError where a receipt was corrected after the figures were read that a correction is made from."""
    if seen is not None and seen != (last := last_correction(receipt)):
        raise InventoryError(
            _(
                "This has been corrected by somebody else since you opened the page (ledger no. {number}). "
                "Reload the page and check the figures.",
                number=last or receipt.number,
            )
        )


def receipt_of(posting: Posting, *, without: Posting | None = None) -> Receipt:
    """What a posting brought in, with its standing corrections, or all but one of them.

    Raises InventoryError for one that was reversed.
    """
    if Posting.objects.filter(reverses=posting).exists():
        raise InventoryError(
            _("Posting {number} has been reversed, so there is nothing to correct.", number=posting.number)
        )
    standing = posting.corrected_by.filter(reversed_by__isnull=True)
    if without is not None:
        standing = standing.exclude(pk=without.pk)
    receipt, *corrections = posted_facts(only=[posting.number, *standing.values_list("number", flat=True)])
    days = (day_moved_to(came_in(each.movements)) for each in reversed(corrections))
    lots: dict[int, tuple[int, int]] = defaultdict(lambda: (0, 0))
    for each in (receipt, *corrections):
        for fact in came_in(each.movements):
            quantity, money = lots[fact.destination[1] or 0]
            lots[fact.destination[1] or 0] = quantity + fact.quantity, money + fact.money
    return Receipt(posting, next((day for day in days if day), receipt.day), lots)


def correct_receipt(
    draft: PostingDraft,
    receipt: Receipt,
    changes: Iterable[ReceiptChange],
    *,
    day: date | None = None,
    is_entered_anew: bool = False,
) -> None:
    """Draft the correction of a receipt: by how much its lots differ, and on which day they came in.

    Differences stand on the day of receipt, or on the first open one. A receipt that moves to another day is taken out
    on the old one and put in on the new; one that `is_entered_anew`, as from another supplier, on one and the same.
    Raises ClosedPeriod when a day that it moves from or to is closed, InventoryError when nothing changes.
    """
    draft.posting.corrects = receipt.posting
    new_day = receipt.day if day is None else day
    if new_day != receipt.day:
        _refuse_closed(draft, receipt.day, new_day)
    own = {change.lot.pk: change for change in changes}
    materials = dict(Lot.objects.filter(pk__in=receipt.lots).values_list("pk", "material_id"))
    for lot, (quantity, money) in receipt.lots.items():
        change = own.get(lot)
        more, dearer = (change.quantity, change.money) if change else (0, 0)
        out = into = draft.books.open_day(receipt.day)
        moves = [(more, dearer, into)]
        if new_day != receipt.day:
            out, into = receipt.day, new_day
        if new_day != receipt.day or is_entered_anew:
            moves = [(-quantity, -money, out), (quantity + more, money + dearer, into)]
        for by, cost, on in moves:
            draft.move(OUTSIDE, lot_account(lot), materials[lot], quantity=by, money=cost, on=on)
    if not draft.movements:
        raise InventoryError(_("Nothing has changed, so there is nothing to correct."))


def refuse_day(receipt: Receipt, day: date, submission: Submission) -> None:
    """Raise LedgerError or InventoryError where a receipt cannot have come in on a day."""
    if day == receipt.day:
        return
    if submission.is_ahead(day):
        raise LedgerError(
            _("{day} is in the future. Use today's date or an earlier one.", day=day_in_words(day))
        )
    if counted := _counted_before(day, receipt):
        raise InventoryError(counted)
    for lot in Lot.objects.filter(pk__in=receipt.lots).order_by("pk"):
        if lot.opened_on is not None and lot.opened_on < day:
            raise InventoryError(
                _(
                    "Lot {lot} was opened on {opened}, so it cannot have come in later. Correct the day of opening "
                    "first, or choose an earlier day.",
                    lot=lot.label,
                    opened=day_in_words(lot.opened_on),
                )
            )


def _counted_before(day: date, receipt: Receipt) -> str:
    """Why a receipt cannot have come in on a day: more of a lot was found in stock before. Empty when it can."""
    gain = (
        Entry.objects.standing()
        .filter(lot__in=receipt.lots, quantity__gt=0, effective_on__lt=day)
        .exclude(Q(posting=receipt.posting) | Q(posting__corrects=receipt.posting))
        .select_related("lot")
        .first()
    )
    if gain is None or gain.lot is None:
        return ""
    return _(
        "Lot {lot} was counted on {counted}, so it cannot have come in later. Choose an earlier day.",
        lot=gain.lot.label,
        counted=day_in_words(gain.effective_on),
    )


def standing_corrections(posting: Posting) -> str:
    """A guard of reversals: the corrections of a receipt are reversed first, the newest before the others."""
    receipt = posting.corrects or posting
    if receipt.kind not in RECEIPTS:
        return ""
    last = last_correction(receipt)
    if last > posting.number:
        return _("This was corrected since. Reverse that first (ledger no. {number}).", number=last)
    if posting.corrects is None or last != posting.number:
        return ""
    before = receipt_of(receipt, without=posting)
    return "" if before.day == receipt_of(receipt).day else _counted_before(before.day, before)


def redate_lots(lots: Iterable[Lot], day: date) -> None:
    """Let lots, and the jars that were filled from them, take their turn as received on a day."""
    waiting = list(lots)
    while waiting:
        lot = waiting.pop()
        lot.received_on = day
        lot.save(update_fields=["received_on"])
        waiting += lot.decanted_into.all()


def came_in(facts: Iterable[Fact]) -> list[Fact]:
    """Of a posting's movements those that brought something, or more cost, into a lot; restated lines apart."""
    return [fact for fact in facts if fact.destination[0] == LOT and not fact.is_derived]


def _refuse_closed(draft: PostingDraft, *days: date) -> None:
    closed = draft.books.closed_through
    if closed is not None and min(days) <= closed:
        raise ClosedPeriod(
            _(
                "The period up to {day} is closed. What came in then stays on its day, and nothing can be moved there.",
                day=day_in_words(closed),
            )
        )
