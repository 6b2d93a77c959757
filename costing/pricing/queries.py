"""What a piece may be sold for, route by route, and what is left of its price. Money is millionths, tax included.

Fees and tax are rounded to the currency's minor unit line by line, as a till rounds them: a half upwards.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db.models import Sum

from costing.cost_sheets.queries import cost_summaries
from costing.errors import CostingError
from costing.pieces.actions.pieces import standing_pieces
from costing.pieces.calculations import SELLABLE
from costing.pieces.models import Piece
from costing.pricing.calculations import pricing
from costing.pricing.calculations.pricing import (
    WHOLE_UNIT,
    Channel,
    Proceeds,
    SizedPrice,
    as_taken,
    out_of_order,
    price_from_markup,
)
from costing.pricing.models import SalesChannel
from inventory.sessions.models import Technique
from studio.preferences.models import Studio
from studio.translation import noop
from studio.values.allocation import divide_half_up
from studio.values.money import minor_unit

NOT_ADVICE = noop("General information, not tax or legal advice.")
USUAL_PROFIT = 300_000  # wanted profit on cost, 30 %, until she says otherwise
FIVES = 5 * WHOLE_UNIT


@dataclass(frozen=True, slots=True)
class ChannelPrices:
    """One route's prices for one piece: the floor leaves its cost and no more, the others the wanted profit too.

    `left` is what the asking price would leave after cost, tax and fees; None without an asking price.
    """

    channel: SalesChannel
    floor: int
    wanted: int
    wanted_whole: int
    wanted_fives: int
    worth: Proceeds | None
    left: int | None


@dataclass(frozen=True, slots=True)
class ChannelProblem:
    """A route that no price can be worked out for, and why."""

    channel: SalesChannel
    problem: str


@dataclass(frozen=True, slots=True)
class SizePrice:
    """A piece beside its siblings: area in thousandths of a cm², price, and price per cm² in millionths."""

    piece_id: int
    title: str
    area: int
    price: int

    @property
    def per_cm2(self) -> int:
        return divide_half_up(self.price * 1000, self.area)


@dataclass(frozen=True, slots=True)
class SizeWarning:
    """A larger piece that is cheaper than a smaller one."""

    smaller: SizePrice
    larger: SizePrice


@dataclass(frozen=True, slots=True)
class PriceAdvice:
    """Everything the pricing page shows for one piece. NOT_ADVICE stands beside it."""

    cost: int
    wanted_profit: int
    price: int | None
    channels: tuple[ChannelPrices, ...]
    problems: tuple[ChannelProblem, ...]
    siblings: tuple[SizePrice, ...]
    warnings: tuple[SizeWarning, ...]


def plain_channel(channel: SalesChannel, studio: Studio) -> Channel:
    """A route and the studio's tax, for the pure calculations. Raises FeesExceedPriceError for senseless rates."""
    return Channel(
        commission=channel.commission,
        card_rate=channel.card_rate,
        fixed_fee=channel.fixed_fee,
        vat_rate=studio.tax_rate,
        commission_on_net=channel.commission_before_tax,
    )


def worth(price: int, channel: SalesChannel, studio: Studio) -> Proceeds:
    """Where a price goes on a route, each line in whole minor units; what is left is its `net`."""
    return as_taken(price, plain_channel(channel, studio), minor_unit=minor_unit(studio.currency))


def worth_per_channel(
    price: int, *, channels: Iterable[SalesChannel], studio: Studio
) -> list[tuple[SalesChannel, Proceeds]]:
    """Where a price goes on each route, the route that leaves most first."""
    found = [(channel, worth(price, channel, studio)) for channel in channels]
    return sorted(found, key=lambda pair: -pair[1].net)


def least_price(wanted: int, channel: SalesChannel, studio: Studio, *, step: int | None = None) -> int:
    """The lowest price in whole steps (the minor unit unless given) that leaves what is wanted after rounded fees."""
    coin = minor_unit(studio.currency)
    return pricing.least_price(wanted, plain_channel(channel, studio), minor_unit=coin, step=step or coin)


def price_advice(
    piece: Piece,
    *,
    profit_rate: int = USUAL_PROFIT,
    wanted_profit: int | None = None,
    channels: Iterable[SalesChannel] | None = None,
) -> PriceAdvice:
    """Suggest prices for a piece on every active route. The wanted profit is a rate on cost unless given as money."""
    studio = Studio.current()
    cost = cost_summaries([piece])[piece.pk].whole
    profit = price_from_markup(cost, profit_rate) - cost if wanted_profit is None else wanted_profit
    found: list[ChannelPrices] = []
    problems: list[ChannelProblem] = []
    for channel in SalesChannel.objects.filter(is_active=True) if channels is None else channels:
        try:
            found.append(_channel_prices(piece.price, cost, profit, channel, studio))
        except CostingError as problem:
            problems.append(ChannelProblem(channel, str(problem)))
    siblings = sibling_prices(piece)
    own_first = sorted(siblings, key=lambda sibling: sibling.piece_id != piece.pk)
    warnings = [
        pair for pair in size_warnings(own_first) if piece.pk in (pair.smaller.piece_id, pair.larger.piece_id)
    ]
    return PriceAdvice(
        cost, profit, piece.price, tuple(found), tuple(problems), tuple(siblings), tuple(warnings)
    )


def sibling_prices(piece: Piece) -> list[SizePrice]:
    """Priced pieces of the same techniques that are finished or for sale, this one among them, smallest first."""
    techniques = Technique.objects.filter(pours__piece_part__piece=piece)
    alike = standing_pieces().filter(price__isnull=False, parts__pour__technique__in=techniques)
    rows = (
        Piece.objects.filter(pk__in=alike.values("pk"), state__in=SELLABLE)
        .annotate(area=Sum("parts__pour__area"))
        .order_by("area", "price", "pk")
    )
    return [SizePrice(row.pk, row.title, row.area, row.price or 0) for row in rows]


def size_warnings(prices: Sequence[SizePrice]) -> list[SizeWarning]:
    """Each piece that is cheaper than a smaller one, beside the dearest of those; of twins the first listed."""
    named = {SizedPrice(item.area, item.price): item for item in reversed(prices)}
    return [SizeWarning(named[smaller], named[larger]) for smaller, larger in out_of_order(list(named))]


def _channel_prices(
    price: int | None, cost: int, profit: int, channel: SalesChannel, studio: Studio
) -> ChannelPrices:
    at_price = worth(price, channel, studio) if price is not None else None
    return ChannelPrices(
        channel=channel,
        floor=least_price(cost, channel, studio),
        wanted=least_price(cost + profit, channel, studio),
        wanted_whole=least_price(cost + profit, channel, studio, step=WHOLE_UNIT),
        wanted_fives=least_price(cost + profit, channel, studio, step=FIVES),
        worth=at_price,
        left=at_price.net - cost if at_price is not None else None,
    )
