"""What is given back after a sale: the piece with its money, or a part of the money alone.

The cost of a returned piece comes back into work as it was. Money is millionths of the currency unit; Meniscus records
what was refunded, it moves no money. Not tax or legal advice.
"""

from dataclasses import dataclass

from costing.commissions.actions import reopen
from costing.commissions.models import Commission
from costing.errors import PieceError
from costing.pieces.actions.outcomes import fail_with_piece
from costing.pieces.actions.steps import hold, refuse_price, take_step
from costing.pieces.calculations import State, Way
from costing.pieces.models import Piece
from costing.pieces.queries import pours_of, work_of
from costing.selling.actions.sales import next_number
from costing.selling.calculations import refunded_tax
from costing.selling.models import Condition, Refund, Sale, SaleLine
from costing.selling.queries import refunded_so_far
from inventory.errors import day_in_words
from inventory.ledger.models import Reason
from inventory.ledger.posting import LockedLedger, open_ledger
from inventory.ledger.reversals import post_reversal
from inventory.sessions.actions.pours import mark_outcome
from inventory.sessions.actions.work import write_off_work
from inventory.sessions.models import Pour
from studio.preferences.models import Studio
from studio.submission import Submission
from studio.translation import _
from studio.values.money import minor_unit


@dataclass(frozen=True, slots=True)
class RefundFacts:
    """What the buyer gets back, and what the sales channel gives back of its fees.

    Without an amount it is all that was paid and not refunded before. Without fees it is the commission for all that
    was paid, for a sale that is undone earns none, while card and fixed fees are kept (common practice, no source).
    """

    amount: int | None = None
    fees: int | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class ReturnFacts(RefundFacts):
    """The same for a piece that comes back: in which condition, and the loss that it is written off as."""

    condition: Condition = Condition.AS_SOLD
    reason: Reason | None = None


def return_sale(*, sale: Sale, submission: Submission, note: str = "", is_undone: bool = False) -> Sale:
    """Take every piece of a sale back as it was sold, and refund all of it; with `is_undone` every fee as well.

    Raises PieceError when all of it has been returned.
    """
    with open_ledger(submission, facts=["return", sale, note, is_undone]) as ledger:
        if ledger.earlier is not None:
            return Sale.objects.get(pk=sale.pk)
        return take_back_all(ledger, sale, note=note, is_undone=is_undone)


def take_back_all(
    ledger: LockedLedger, sale: Sale, *, note: str, is_undone: bool, answers: bool = True
) -> Sale:
    """The same, as a part of what a submission does; a posting of it `answers` its key, unless another one does."""
    lines = list(sale.lines.select_for_update().filter(returned_on__isnull=True).order_by("pk"))
    if not lines:
        lines = list(sale.lines.order_by("pk"))[:1]
    for index, line in enumerate(lines):
        fees = line.fees - refunded_so_far(line).fees if is_undone else None
        _return(ledger, line, ReturnFacts(note=note, fees=fees), answers=answers and index == 0)
    if is_undone:
        _reopen_commission(ledger, sale)
    return sale


def _reopen_commission(ledger: LockedLedger, sale: Sale) -> None:
    """The commission of a sale that is undone waits for another: what was paid before is held again."""
    commission = Commission.objects.select_for_update(of=("self",)).filter(sale=sale).first()
    if commission is not None:
        sale.commission = None
        sale.save(update_fields=["commission"])
        reopen(commission, ledger=ledger)


def return_line(*, line: SaleLine, facts: ReturnFacts, submission: Submission) -> SaleLine:
    """Take one piece of a sale back: for sale again at its own cost, as a second, or straight to write-off.

    Raises PieceError when it was returned before, or for amounts that are more than was paid.
    """
    with open_ledger(submission, facts=["return", line, facts, submission.on]) as ledger:
        if ledger.earlier is not None:
            return SaleLine.objects.get(pk=line.pk)
        line = SaleLine.objects.select_for_update().get(pk=line.pk)
        _return(ledger, line, facts)
        return line


def refund_line(*, line: SaleLine, facts: RefundFacts, submission: Submission) -> Refund:
    """Refund a part of what was paid for a piece that the buyer keeps. Raises PieceError."""
    with open_ledger(submission, facts=["refund", line, facts, submission.on]) as ledger:
        if earlier := ledger.earlier_record(Refund):
            return earlier
        line = SaleLine.objects.select_for_update().get(pk=line.pk)
        ledger.refuse_day(submission.on)
        _refuse_return(line, submission)
        return _refund(ledger, line, facts, answers=True)


def _return(ledger: LockedLedger, line: SaleLine, facts: ReturnFacts, *, answers: bool = True) -> None:
    submission = ledger.submission
    _refuse_return(line, submission)
    piece = Piece.objects.get(pk=line.piece_id)
    hold(piece)
    note = facts.note or _("Returned: {title}", title=piece.title)
    post_reversal(ledger, line.posting, note=note, on=submission.on, answers=answers)
    take_step(piece, State.FOR_SALE, Way.RETURN, submission=submission, note=facts.note)
    _refund(ledger, line, facts, condition=facts.condition)
    line.returned_on = submission.on
    line.save(update_fields=["returned_on"])
    line.piece = piece
    if facts.condition == Condition.SECOND:
        for pour in pours_of(piece):
            mark_outcome(pour, Pour.Outcome.SECOND)
    elif facts.condition == Condition.WRITTEN_OFF:
        _write_off(ledger, piece, facts)


def _write_off(ledger: LockedLedger, piece: Piece, facts: ReturnFacts) -> None:
    if facts.reason is None or facts.reason.kind != Reason.Kind.LOSS:
        raise PieceError(_("Choose what happened to the piece, so that its cost is written off to that."))
    note = facts.note or f"{facts.reason.name}: {piece.title}"
    write_off_work(ledger, pours=work_of(piece), reason=facts.reason, note=note, answers=False)
    take_step(piece, State.WRITTEN_OFF, Way.DISPOSAL, submission=ledger.submission, note=facts.note)
    fail_with_piece(piece)


def _refund(
    ledger: LockedLedger, line: SaleLine, facts: RefundFacts, *, condition: str = "", answers: bool = False
) -> Refund:
    earlier = refunded_so_far(line)
    left = line.paid - earlier.amount
    amount = left if facts.amount is None else facts.amount
    default_fees = max(line.commission - earlier.fees, 0) if amount == left else 0
    fees = default_fees if facts.fees is None else facts.fees
    _refuse_refund(amount, left=left, fees=fees, fees_left=line.fees - earlier.fees)
    if not amount and not condition:
        raise PieceError(_("Enter what the buyer gets back, above zero."))
    coin = minor_unit(Studio.current().currency)
    tax = refunded_tax(earlier.amount + amount, paid=line.paid, tax=line.tax, minor_unit=coin)
    return Refund.objects.create(
        line=line,
        on=ledger.submission.on,
        amount=amount,
        tax=tax - earlier.tax,
        fees=fees,
        condition=condition,
        number=next_number(Refund) if line.sale.number is not None else None,
        note=facts.note,
        recorded_by=ledger.submission.by,
        key=ledger.submission.key if answers else "",
        fingerprint=ledger.fingerprint if answers else "",
    )


def _refuse_refund(amount: int, *, left: int, fees: int, fees_left: int) -> None:
    refuse_price(amount)
    refuse_price(fees)
    if amount > left:
        raise PieceError(_("That is more than the buyer paid for it. Refund less."))
    if fees > fees_left:
        raise PieceError(_("That is more than the sales channel took. Enter less."))


def _refuse_return(line: SaleLine, submission: Submission) -> None:
    if line.returned_on is not None:
        day = day_in_words(line.returned_on)
        raise PieceError(_("“{title}” was already returned on {day}.", title=line.piece.title, day=day))
    if submission.on < line.sale.sold_on:
        day = day_in_words(line.sale.sold_on)
        raise PieceError(_("It was sold on {day}: it cannot be returned before that.", day=day))
