"""A late change to what came in, when, or at what cost: posted visibly, and restated in all that it has become."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from inventory.errors import ClosedPeriod, InventoryError, day_in_words
from inventory.ledger.accounts import OUTSIDE, lot_account
from inventory.ledger.models import Lot, Posting
from inventory.ledger.posting import PostingDraft
from inventory.ledger.restatement import LOT, Fact, day_moved_to
from inventory.ledger.restating import posted_facts
from studio.translation import _


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


def receipt_of(posting: Posting) -> Receipt:
    """What a posting brought in, with its standing corrections. Raises InventoryError for one that was reversed."""
    if Posting.objects.filter(reverses=posting).exists():
        raise InventoryError(
            _("Posting {number} has been reversed, so there is nothing to correct.", number=posting.number)
        )
    standing = posting.corrected_by.filter(reversed_by__isnull=True).values_list("number", flat=True)
    receipt, *corrections = posted_facts(only=[posting.number, *standing])
    days = (day_moved_to(came_in(each.movements)) for each in reversed(corrections))
    lots: dict[int, tuple[int, int]] = defaultdict(lambda: (0, 0))
    for each in (receipt, *corrections):
        for fact in came_in(each.movements):
            quantity, money = lots[fact.destination[1] or 0]
            lots[fact.destination[1] or 0] = quantity + fact.quantity, money + fact.money
    return Receipt(posting, next((day for day in days if day), receipt.day), lots)


def correct_receipt(
    draft: PostingDraft, receipt: Receipt, changes: Iterable[ReceiptChange], *, day: date | None = None
) -> None:
    """Draft the correction of a receipt: by how much its lots differ, and on which day they came in.

    Differences stand on the day of receipt, or on the first open one. A receipt that moves to another day is taken out
    on the old one and put in on the new. Raises ClosedPeriod when one of these two is closed, InventoryError when
    nothing changes.
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
        moves = [(more, dearer, draft.books.open_day(receipt.day))]
        if new_day != receipt.day:
            moves = [(-quantity, -money, receipt.day), (quantity + more, money + dearer, new_day)]
        for by, cost, on in moves:
            draft.move(OUTSIDE, lot_account(lot), materials[lot], quantity=by, money=cost, on=on)
    if not draft.movements:
        raise InventoryError(_("Nothing has changed, so there is nothing to correct."))


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
