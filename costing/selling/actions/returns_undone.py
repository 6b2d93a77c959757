"""Putting a return right that was recorded by mistake: the buyer has the piece after all.

Neither the sale nor the refund is changed, and no number is taken back. Another sale, with a number of its own,
mirrors the refund to the penny, on the day of the return: the three together bring what the first sale alone brought.
Not tax or legal advice.
"""

from dataclasses import replace
from datetime import date

from django.db.models import QuerySet

from costing.errors import PieceError
from costing.pieces.actions.steps import hold
from costing.pieces.calculations import State
from costing.pieces.models import Piece
from costing.selling.actions.disposals import bring_back_under
from costing.selling.actions.sales import PieceSold, next_number, sell_line
from costing.selling.calculations import LineShares
from costing.selling.models import Condition, Refund, Sale, SaleLine
from inventory.ledger.posting import LockedLedger, open_ledger
from studio.preferences.models import Studio
from studio.submission import Submission
from studio.translation import _

# The states in which a return leaves a piece: whatever else became of it since goes first.
AS_RETURNED = (State.FOR_SALE, State.FINISHED, State.WRITTEN_OFF)


def undo_return(*, line: SaleLine, submission: Submission, note: str = "") -> Sale:
    """Sell a returned piece again for what was refunded with it; returns that sale.

    Raises PieceError where there is nothing to undo or something has become of the piece since.
    """
    with open_ledger(submission, facts=["undo return", line, note]) as ledger:
        if ledger.earlier is not None:
            return ledger.earlier.sale_line.sale
        line = (
            SaleLine.objects.select_for_update(of=("self",)).select_related("sale", "piece").get(pk=line.pk)
        )
        if reason := obstacle_to_undoing(line):
            raise PieceError(reason)
        hold(line.piece)
        on = _day_of(ledger, line)
        dated = replace(ledger, submission=replace(submission, on=on))
        note = note or _("The return of sale {number} was recorded by mistake", number=line.sale_id)
        if line.piece.state == State.WRITTEN_OFF:
            bring_back_under(dated, line.piece, note=note, answers=False)
        return _sell_again(dated, line, returning_refund(line), note)


def obstacle_to_undoing(line: SaleLine) -> str:
    """Why a return cannot be undone as it stands, and what to do instead; empty when it can."""
    title = line.piece.title
    if line.returned_on is None:
        return _("“{title}” was not returned.", title=title)
    if Sale.objects.filter(corrects=line.sale_id).exists():
        return _("This sale was corrected. Correct the sale that stands in its place.")
    if line.sale.paid_before and line.sale.commission_id is None:
        return _("This sale finished an order, which is open again. Record the sale from that order.")
    if later_lines(line).exists() or line.piece.state not in AS_RETURNED:
        return _(
            "“{title}” is now {state}. Undo that first, or record a new sale.",
            title=title,
            state=State(line.piece.state).words,
        )
    refund = returning_refund(line)
    if line.piece.state == State.WRITTEN_OFF and refund.condition != Condition.WRITTEN_OFF:
        return _("“{title}” was written off since. Bring it back first.", title=title)
    if not refund.amount:
        return _(
            "Nothing was refunded for “{title}”, and a sale needs a price. Record it as given away, or sell it again "
            "for what the buyer pays now.",
            title=title,
        )
    return ""


def returning_refund(line: SaleLine) -> Refund:
    """The refund with which the piece came back."""
    return line.refunds.exclude(condition="").get()


def later_lines(line: SaleLine) -> QuerySet[SaleLine]:
    """Where the same piece was sold again, and did not come back."""
    return SaleLine.objects.filter(piece=line.piece_id, pk__gt=line.pk, returned_on__isnull=True)


def _day_of(ledger: LockedLedger, line: SaleLine) -> date:
    """The day of the return; the submission's where that is in a closed period."""
    closed, on = ledger.books.closed_through, line.returned_on or ledger.submission.on
    return on if closed is None or on > closed else ledger.submission.on


def _sell_again(ledger: LockedLedger, line: SaleLine, refund: Refund, note: str) -> Sale:
    was = line.sale
    sale = Sale.objects.create(
        channel_id=was.channel_id,
        sold_on=ledger.submission.on,
        number=next_number(Sale) if Studio.current().numbers_receipts else None,
        buyer_id=was.buyer_id,
        tax_rate=was.tax_rate,
        note=note[:200],
        recorded_by=ledger.submission.by,
    )
    is_whole = refund.amount == line.paid
    postage = line.postage if is_whole else 0
    price = refund.amount - postage
    full_price = line.full_price if is_whole else price
    shares = LineShares(price, postage, 0, refund.tax, refund.fees, 0, 0)
    piece = Piece.objects.get(pk=line.piece_id)
    sell_line(ledger, sale, PieceSold(piece, full_price), shares, {})
    return sale
