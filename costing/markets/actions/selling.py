"""Writers of the quick sale: pieces sold at a stall for cash or by card, and a sale that was a slip undone."""

from collections.abc import Sequence
from dataclasses import replace

from costing.markets.models import MarketDay
from costing.pricing.models import SalesChannel
from costing.selling.actions import PieceSold, SaleFacts, return_sale, sell_together
from costing.selling.models import Sale, SaleLine
from inventory.errors import day_in_words
from studio.errors import InputError
from studio.submission import Submission
from studio.translation import _

CASH, CARD = "cash", "card"


def quick_sale(
    *, market: MarketDay, lines: Sequence[PieceSold], paid_by: str, submission: Submission
) -> Sale:
    """Sell pieces to one buyer on the day of a market, whenever it is sent: all of them or none, and once.

    Raises InputError for a way to pay or a day that makes no sense, and what `sell_together` raises: PiecesGone where
    a piece has been sold since.
    """
    channel = channel_for(market, paid_by)
    if market.held_on > submission.today:
        raise InputError(
            _("This market day is on {day}. Sell from that day on.", day=day_in_words(market.held_on)),
            field="market",
        )
    return sell_together(
        lines=lines,
        channel=channel,
        facts=SaleFacts(note=market.name),
        submission=replace(submission, on=market.held_on),
    )


def undo_quick_sale(*, market: MarketDay, key: str, submission: Submission) -> Sale:
    """Undo what the same person sold under this key: its pieces are for sale again, all fees come back.

    By the key, since a device without a network knows no other name of it; whenever it is sent, for it was touched at
    the stall. Raises InputError where there is no such sale, and what `return_sale` raises.
    """
    own = SaleLine.objects.filter(posting__key=key, posting__recorded_by=submission.by)
    line = own.filter(sale__sold_on=market.held_on).select_related("sale").first()
    if line is None:
        raise InputError(_("No sale of this market day was sent with this key."), field="sale")
    on = line.sale.sold_on
    return return_sale(sale=line.sale, is_undone=True, submission=replace(submission, on=on))


def channel_for(market: MarketDay, paid_by: str) -> SalesChannel:
    """The channel of a way to pay. Raises InputError where the market day has none."""
    channel = {CASH: market.cash_channel, CARD: market.card_channel}.get(paid_by)
    if channel is None:
        advice = _("“{market}” has no sales channel for this kind of payment.", market=market.name)
        raise InputError(advice, field="paid_by")
    return channel
