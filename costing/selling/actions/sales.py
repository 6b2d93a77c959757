"""Writers for sales and returns. A piece is sold once: refused here, and by the database in any case.

Money is millionths of the currency unit; the price includes tax. Not tax or legal advice.
"""

from datetime import date, datetime

from django.db import transaction

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
from inventory.ledger import posting as ledger
from inventory.ledger.models import Posting
from inventory.ledger.reversals import reverse
from inventory.sessions.actions.work import bring_back_corrections, sell_work, with_poured_over
from studio.accounts.models import User
from studio.preferences.models import Studio
from studio.translation import _


@transaction.atomic
def sell(
    *,
    piece: Piece,
    channel: SalesChannel,
    price: int,
    on: date,
    by: User,
    at: datetime,
    note: str = "",
    key: str = "",
) -> Sale:
    """Record a sale: tax and the route's fees from the price, all the piece's cost from work to sold.

    Raises StepRefused for a piece that is not finished, for sale or reserved, MovedOnMeanwhile when somebody else was
    faster, SaleError or PieceError for a price or a day that makes no sense.
    """
    head = ledger.lock()
    request = ledger.fingerprint(["sale", piece.pk, channel.pk, price, on])
    earlier = head.earlier(by=by, key=key, fingerprint=request)
    if earlier is not None:
        return earlier.sale
    hold(piece)
    check_step(piece.title, piece.state, State.SOLD, Way.SALE)
    _refuse_terms(piece, price, on, at)
    going = worth(price, channel, Studio.current())
    posting = sell_work(
        head=head,
        pours=work_of(piece),
        on=on,
        by=by,
        at=at,
        note=note or f"{piece.title}: {channel.name}",
        key=key,
        fingerprint=request,
    )
    sale = Sale.objects.create(
        piece=piece,
        channel=channel,
        sold_on=on,
        price=price,
        tax=going.vat,
        commission=going.commission,
        card_fee=going.card_fee,
        fixed_fee=going.fixed_fee,
        note=note,
        recorded_by=by,
        posting=posting,
    )
    take_step(piece, State.SOLD, Way.SALE, on=on, by=by, at=at, note=note)
    return sale


@transaction.atomic
def take_back(*, sale: Sale, on: date, by: User, at: datetime, note: str = "", key: str = "") -> Sale:
    """Record a return: the piece comes back for sale, and its original cost into work. Raises SaleError when it did.

    The fees stay on the sale as they were: whether a route gives them back is its own affair.
    """
    ledger.lock()
    note = note or f"Returned: {sale.piece.title}"  # always in English: the ledger compares it
    if key and Posting.objects.filter(recorded_by=by, key=key).exists():
        # the ledger compares the two requests and posts nothing
        reverse(posting=sale.posting, by=by, at=at, note=note, key=key)
        sale.refresh_from_db()
        return sale
    standing = Sale.objects.select_for_update().get(pk=sale.pk)
    if standing.returned_on is not None:
        day = day_in_words(standing.returned_on)
        raise SaleError(_("“{title}” came back on {day} already.", title=sale.piece.title, day=day))
    if on < sale.sold_on:
        day = day_in_words(sale.sold_on)
        raise SaleError(_("It was sold on {day}: it cannot come back before that.", day=day))
    piece = Piece.objects.get(pk=sale.piece_id)
    hold(piece)
    reverse(posting=sale.posting, by=by, at=at, note=note, key=key, on=on)
    bring_back_corrections(pours=with_poured_over(pours_of(piece)), on=on, by=by, at=at)
    take_step(piece, State.FOR_SALE, Way.RETURN, on=on, by=by, at=at, note=note)
    sale.returned_on = on
    sale.save(update_fields=["returned_on"])
    sale.piece = piece
    return sale


def _refuse_terms(piece: Piece, price: int, on: date, at: datetime) -> None:
    if price <= 0:
        raise SaleError(_("A sale needs a price above zero. A piece that leaves for nothing is given away."))
    refuse_price(price)
    refuse_day(piece, on, at)
    refuse_before_work(piece, on)
