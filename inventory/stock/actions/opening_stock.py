"""Putting opening stock right after it was posted: its day, and how much there was of each lot at what cost.

What is recorded of it stands in the ledger alone, so its corrections need no rows of their own.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from django.db.models import Exists, OuterRef, QuerySet

from inventory.ledger.corrections import (
    Receipt,
    ReceiptChange,
    correct_receipt,
    receipt_of,
    redate_lots,
    refuse_day,
    refuse_overtaken,
)
from inventory.ledger.effects import Effect, effects_of
from inventory.ledger.models import Entry, Lot, Place, Posting, PostingKind
from inventory.ledger.posting import PostingDraft, open_ledger, rehearsal
from inventory.purchasing.actions.deliveries import OpeningLine
from studio.errors import InputError, refuse_all
from studio.submission import Submission
from studio.translation import _


@dataclass(frozen=True, slots=True)
class OpeningCorrectionFacts:
    """What is corrected: the day, and `quantity` (thousandths) and `money` (millionths) of lots by number.

    Whatever is left out stays as recorded. `seen` is the last correction that these figures were entered against, as
    of a delivery.
    """

    received_on: date | None = None
    lines: Mapping[int, Mapping[str, int]] = field(default_factory=dict)
    reason: str = ""
    seen: int | None = None


def correct_opening(*, posting: Posting, facts: OpeningCorrectionFacts, submission: Submission) -> Posting:
    """Post what differs as one correction that follows the goods to wherever they are by now.

    Raises InputError naming the field and the line, InventoryError when nothing differs or somebody else corrected it
    since, and BelowZeroOnDay when a lot would have been below zero on some day.
    """
    with open_ledger(submission, facts=["correct opening stock", posting, facts]) as ledger:
        if ledger.earlier is not None:
            return ledger.earlier
        draft = ledger.draft(PostingKind.CORRECTION, note=facts.reason)
        lots, day = _draft_changes(draft, posting, facts, submission)
        correction = draft.seal()
        redate_lots([lot for lot in lots if lot.received_on != day], day)
        return correction


def preview_opening_correction(
    *, posting: Posting, facts: OpeningCorrectionFacts, submission: Submission
) -> list[Effect]:
    """What the correction would change, account by account. Raises what posting it would; writes nothing."""
    draft = rehearsal(submission.on)
    _draft_changes(draft, posting, facts, submission)
    return effects_of(draft)


def opening_stock() -> QuerySet[Posting]:
    """Postings of opening stock on the shelf; not those of finished pieces, which are no lots."""
    in_lots = Entry.objects.filter(posting=OuterRef("pk"), place=Place.LOT)
    return Posting.objects.filter(Exists(in_lots), kind=PostingKind.OPENING)


def lots_of(receipt: Receipt) -> list[Lot]:
    """The lots that a receipt brought in, in the order in which they were entered."""
    return list(Lot.objects.filter(pk__in=receipt.lots).select_related("material").order_by("pk"))


def redate_opening(posting: Posting) -> None:
    """Let lots come in on the day that holds again, once a correction of opening stock has been reversed."""
    if posting.corrects is None or posting.corrects.kind != PostingKind.OPENING:
        return
    receipt = receipt_of(posting.corrects)
    redate_lots([lot for lot in lots_of(receipt) if lot.received_on != receipt.day], receipt.day)


def _draft_changes(
    draft: PostingDraft, posting: Posting, facts: OpeningCorrectionFacts, submission: Submission
) -> tuple[list[Lot], date]:
    """Put what differs into a draft; return the lots and the day on which they came in as corrected."""
    refuse_overtaken(posting, facts.seen)
    receipt = receipt_of(posting)
    lots = lots_of(receipt)
    day = facts.received_on or receipt.day
    changes = _changes(receipt, lots, facts)
    refuse_day(receipt, day, submission)
    correct_receipt(draft, receipt, changes, day=day)
    return lots, day


def _changes(receipt: Receipt, lots: Sequence[Lot], facts: OpeningCorrectionFacts) -> list[ReceiptChange]:
    if unknown := facts.lines.keys() - receipt.lots.keys():
        numbers = ", ".join(str(number) for number in sorted(unknown))
        raise InputError(_("This opening stock has no lot {numbers}.", numbers=numbers), field="lines")
    changes, problems = [], []
    for number, lot in enumerate(lots, start=1):
        quantity, money = receipt.lots[lot.pk]
        line = facts.lines.get(lot.pk, {})
        try:
            true = OpeningLine(lot.material, line.get("quantity", quantity), line.get("money", money))
        except InputError as problem:
            problems += [each.on_line(number) for each in problem.problems]
        else:
            changes.append(ReceiptChange(lot, true.quantity - quantity, true.money - money))
    refuse_all(problems)
    return changes
