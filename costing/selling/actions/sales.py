"""Writers for sales and returns. A piece is sold once: refused here, and by the database in any case.

Money is millionths of the currency unit; the price includes tax. Not tax or legal advice.
"""

from datetime import date

from costing.errors import SaleError
from costing.pieces.actions.pieces import pours_of, work_of
from costing.pieces.actions.refusals import refuse_price
from costing.pieces.actions.steps import hold, refuse_before_work, refuse_day, take_step
from costing.pieces.calculations import State, Way, check_step
from costing.pieces.models import Piece
from costing.pricing.models import SalesChannel
from costing.pricing.queries import worth
from costing.selling.models import Sale
from inventory.errors import day_in_words
from inventory.ledger.posting import open_ledger
from inventory.ledger.reversals import post_reversal
from inventory.sessions.actions.work import bring_back_corrections, sell_work, with_poured_over
from studio.preferences.models import Studio
from studio.submission import Submission
from studio.translation import _


def sell(*, piece: Piece, channel: SalesChannel, price: int, submission: Submission, note: str = "") -> Sale:
    """Record a sale: tax and the channel's fees from the price, all the piece's cost from work to sold.

    Raises StepRefused for a piece that is not finished, for sale or reserved, StatusConflict when somebody else was
    faster, SaleError or PieceError for a price or a day that makes no sense.
    """
    asked = ["sale", piece.pk, channel.pk, price, submission.on]
    with open_ledger(submission, facts=asked) as ledger:
        if ledger.earlier is not None:
            return ledger.earlier.sale
        hold(piece)
        check_step(piece.title, piece.state, State.SOLD, Way.SALE)
        _refuse_terms(piece, price, submission)
        going = worth(price, channel, Studio.current())
        posting = sell_work(ledger, pours=work_of(piece), note=note or f"{piece.title}: {channel.name}")
        sale = Sale.objects.create(
            piece=piece,
            channel=channel,
            sold_on=submission.on,
            price=price,
            tax=going.vat,
            commission=going.commission,
            card_fee=going.card_fee,
            fixed_fee=going.fixed_fee,
            note=note,
            recorded_by=submission.by,
            posting=posting,
        )
        take_step(piece, State.SOLD, Way.SALE, submission=submission, note=note)
        return sale


def take_back(*, sale: Sale, submission: Submission, note: str = "") -> Sale:
    """Record a return: the piece comes back for sale, and its original cost into work. Raises SaleError when it did.

    The fees stay on the sale as they were: whether a channel gives them back is its own affair.
    """
    with open_ledger(submission, facts=["return", sale, note]) as ledger:
        if ledger.earlier is not None:
            sale.refresh_from_db()
            return sale
        standing = Sale.objects.select_for_update().get(pk=sale.pk)
        _refuse_return(standing, submission.on)
        piece = Piece.objects.get(pk=sale.piece_id)
        hold(piece)
        post_reversal(
            ledger, sale.posting, note=note or _("Returned: {title}", title=piece.title), on=submission.on
        )
        bring_back_corrections(ledger, pours=with_poured_over(pours_of(piece)))
        take_step(piece, State.FOR_SALE, Way.RETURN, submission=submission, note=note)
        sale.returned_on = submission.on
        sale.save(update_fields=["returned_on"])
        sale.piece = piece
        return sale


def _refuse_return(sale: Sale, on: date) -> None:
    if sale.returned_on is not None:
        day = day_in_words(sale.returned_on)
        raise SaleError(_("“{title}” was already returned on {day}.", title=sale.piece.title, day=day))
    if on < sale.sold_on:
        day = day_in_words(sale.sold_on)
        raise SaleError(_("It was sold on {day}: it cannot be returned before that.", day=day))


def _refuse_terms(piece: Piece, price: int, submission: Submission) -> None:
    if price <= 0:
        raise SaleError(_("A sale needs a price above zero. If you get nothing for it, record a gift."))
    refuse_price(price)
    refuse_day(piece, submission)
    refuse_before_work(piece, submission.on)
