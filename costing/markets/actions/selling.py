"""Writer of the quick sale: pieces sold at a stall for cash or by card."""

from collections.abc import Sequence
from dataclasses import replace

from costing.markets.models import MarketDay
from costing.pricing.models import SalesChannel
from costing.selling.actions import PieceSold, SaleFacts, sell_together
from costing.selling.models import Sale
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
    a piece was sold meanwhile.
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


def channel_for(market: MarketDay, paid_by: str) -> SalesChannel:
    """The channel of a way to pay. Raises InputError where the market day has none."""
    channel = {CASH: market.cash_channel, CARD: market.card_channel}.get(paid_by)
    if channel is None:
        advice = _("“{market}” has no sales channel for this kind of payment.", market=market.name)
        raise InputError(advice, field="paid_by")
    return channel
