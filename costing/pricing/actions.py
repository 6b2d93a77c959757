"""Writers of sales channels, of the studio's ways to a price, and of many prices at once."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from costing.pieces.actions.pieces import set_price
from costing.pieces.models import Piece
from costing.pricing.models import ChannelTerms, PriceRules, SalesChannel
from inventory.ledger.models import Books
from studio.auditing.reference_rows import save_row
from studio.submission import Submission, transaction


def add_channel(channel: SalesChannel, terms: ChannelTerms, *, submission: Submission | None) -> SalesChannel:
    """Add a sales channel with its first terms. Raises InputError naming the column.

    A monthly fee starts after what is closed: before that, the channel was not there.
    """
    books = Books.objects.get()
    with transaction(submission):
        save_row(channel, submission=submission)
        terms.channel = channel
        if books.closed_through and terms.monthly_fee:
            since = books.open_day(date.min)
            later = ChannelTerms(channel=channel, holds_from=since, monthly_fee=terms.monthly_fee)
            terms.monthly_fee = 0
            save_row(later, submission=submission)
        save_row(terms, submission=submission)
    return channel


def change_price_rules(row: PriceRules, *, submission: Submission, seen: int | None = None) -> PriceRules:
    """Save the figures of the studio's ways to a price. Raises InputError naming the column, EditConflict."""
    with transaction(submission):
        if row._state.adding:  # the defaults, changed for the first time: a change like any other
            PriceRules.objects.get_or_create(pk=1)
            row._state.adding = False
        return save_row(row, submission=submission, seen=seen)


@dataclass(frozen=True, slots=True)
class NewPrice:
    """What is to be asked for a piece (None: nothing yet), and the last change of it that was seen."""

    piece: Piece
    price: int | None
    seen: int | None = None


def set_prices(*, prices: Sequence[NewPrice], submission: Submission) -> list[Piece]:
    """Set the asking prices of several pieces, all or none; those that stay as they are are left alone.

    Returns the pieces that changed. Raises PieceError for one that has left, EditConflict.
    """
    with transaction(submission):
        return [
            set_price(piece=each.piece, price=each.price, seen=each.seen, submission=submission)
            for each in prices
            if each.price != each.piece.price
        ]
